"""Which back-office tables each role may see or edit. One table, applied after migrate."""

from typing import Final

from django.contrib.auth.models import Group, Permission

from blendshop.roles import Role

_EDIT = ("view", "add", "change")
_VIEW = ("view",)
#: What the plant floor writes down; nobody edits it here.
_FLOOR = {
    f"orders.{model}": _VIEW
    for model in (
        "batchpart",
        "charge",
        "labelapproval",
        "labelapprovalwithdrawn",
        "loweredpromise",
        "packageserial",
        "qualityreading",
        "stocklot",
        "stockmovement",
        "tankentry",
    )
}

#: role -> {"app.model": permitted verbs}
BACK_OFFICE: Final = {
    Role.FORMULATOR: {
        "formulas.basestock": _EDIT,
        "formulas.analysisfigure": (*_EDIT, "delete"),
        "formulas.trait": _EDIT,
        "formulas.compatibilityrule": (*_EDIT, "delete"),
        "orders.plantspread": _EDIT,
        "orders.stockspread": (*_EDIT, "delete"),
        **_FLOOR,
    },
    Role.OFFICE: {
        "accounts.company": _EDIT,
        "accounts.user": _EDIT,
        "outbox.mail": _VIEW,
        "orders.closedday": (*_EDIT, "delete"),
        "orders.customerterms": _EDIT,
        "orders.shipto": _EDIT,
        "orders.plantprofile": ("view", "add", "change"),
        "orders.package": _EDIT,
        "orders.tank": _EDIT,
        "orders.truck": _EDIT,
        "orders.plantspread": _EDIT,
        "orders.stockspread": (*_EDIT, "delete"),
        "orders.paper": _VIEW,
        **_FLOOR,
        "formulas.basestock": _VIEW,
    },
}


def sync_role_groups() -> None:
    """Create the group of every role and give it exactly the permissions of the table."""
    for role in Role:
        group, _ = Group.objects.get_or_create(name=role.value)
        wanted = {
            (app_model.split(".")[0], f"{verb}_{app_model.split('.')[1]}")
            for app_model, verbs in BACK_OFFICE.get(role, {}).items()
            for verb in verbs
        }
        permissions = [
            permission
            for permission in Permission.objects.select_related("content_type")
            if (permission.content_type.app_label, permission.codename) in wanted
        ]
        group.permissions.set(permissions)
