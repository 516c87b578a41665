"""The back office's front: its tables in groups, by what the trade calls them."""

from __future__ import annotations

from typing import Any, Final

from django.contrib import admin
from django.http import HttpRequest
from django.urls import reverse
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

#: Group by group, each table with its words; what stands in none is a record to look at.
GROUPS: Final[tuple[tuple[Promise, dict[str, Promise]], ...]] = (
    (
        _("People and customers"),
        {
            "accounts.user": _("People who sign in"),
            "accounts.company": _("Customers' companies"),
            "orders.shipto": _("Places delivered to"),
            "orders.customerterms": _("Terms of customers"),
        },
    ),
    (
        _("The plant"),
        {
            "orders.plantprofile": _("Head of papers and working week"),
            "orders.closedday": _("Days without loads"),
            "orders.tank": _("Tanks and their scales"),
            "orders.package": _("Totes, drums and bulk"),
            "orders.truck": _("Trucks"),
        },
    ),
    (
        _("Stocks"),
        {
            "formulas.basestock": _("Base stocks: analysis, density, limits"),
            "formulas.trait": _("Traits of stocks"),
            "formulas.compatibilityrule": _("What must not meet in a tank"),
            "orders.stockspread": _("How a stock scatters"),
            "orders.plantspread": _("How the plant weighs"),
        },
    ),
)
_RECORDS: Final = _("Records, to look at")


def words_of(label: str) -> Promise | None:
    """What a table (``app.model``) is called here; None for a record."""
    return next((words[label] for _group, words in GROUPS if label in words), None)


class BackOffice(admin.AdminSite):
    site_header = _("Back office")
    site_title = _("Back office")
    index_title = _("Back office")
    enable_nav_sidebar = False

    def get_app_list(self, request: HttpRequest, app_label: str | None = None) -> list[Any]:
        """The tables this person may see, by group; of one app as the framework lists them."""
        listed = super().get_app_list(request, app_label)
        if app_label is not None:
            return listed
        tables = {row["model"]._meta.label_lower: row for app in listed for row in app["models"]}
        groups = [
            (
                title,
                [
                    tables.pop(label) | {"name": name}
                    for label, name in words.items()
                    if label in tables
                ],
            )
            for title, words in GROUPS
        ]
        groups.append((_RECORDS, sorted(tables.values(), key=lambda row: str(row["name"]))))
        return [
            {
                "name": title,
                "app_label": f"group-{place}",
                "app_url": reverse("admin:index", current_app=self.name),
                "has_module_perms": True,
                "models": rows,
            }
            for place, (title, rows) in enumerate(groups)
            if rows
        ]
