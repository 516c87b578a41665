"""The back office's front: its tables in groups, by what the trade calls them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from django.contrib import admin
from django.http import HttpRequest
from django.urls import reverse
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _


@dataclass(frozen=True, slots=True)
class TableWords:
    """What a table and one row of it are called; ``add`` is the button, where rows are added."""

    many: Promise
    one: Promise
    add: Promise | str = ""


#: Group by group, each table (``app.model``) with its words.
GROUPS: Final[tuple[tuple[Promise, dict[str, TableWords]], ...]] = (
    (
        _("People and customers"),
        {
            "accounts.user": TableWords(_("People who sign in"), _("Person"), _("Add a person")),
            "accounts.company": TableWords(
                _("Customers' companies"), _("Company"), _("Add a company")
            ),
            "orders.shipto": TableWords(
                _("Places delivered to"), _("Place delivered to"), _("Add a place")
            ),
            "orders.customerterms": TableWords(
                _("Terms of customers"), _("Terms of a customer"), _("Add a customer's terms")
            ),
        },
    ),
    (
        _("The plant"),
        {
            "orders.plantprofile": TableWords(
                _("Head of papers and working week"),
                _("Head of papers and working week"),
                _("Add the head of papers"),
            ),
            "orders.closedday": TableWords(
                _("Days without loads"), _("Day without loads"), _("Add a day")
            ),
            "orders.tank": TableWords(_("Tanks and their scales"), _("Tank"), _("Add a tank")),
            "orders.package": TableWords(
                _("Totes, drums and bulk"), _("Package"), _("Add a package")
            ),
            "orders.truck": TableWords(_("Trucks"), _("Truck"), _("Add a truck")),
        },
    ),
    (
        _("Stocks"),
        {
            "formulas.basestock": TableWords(
                _("Base stocks: analysis, density, limits"), _("Base stock"), _("Add a base stock")
            ),
            "formulas.trait": TableWords(
                _("Traits of stocks"), _("Trait of stocks"), _("Add a trait")
            ),
            "formulas.compatibilityrule": TableWords(
                _("What must not meet in a tank"), _("What must not meet"), _("Add a rule")
            ),
            "orders.stockspread": TableWords(
                _("How a stock scatters"), _("How the stock scatters"), _("Add a stock")
            ),
            "orders.plantspread": TableWords(
                _("How the plant weighs"), _("How the plant weighs"), _("Add the plant's figures")
            ),
        },
    ),
)
#: What is written on the floor and by the pages, and only looked at here.
RECORDS: Final[dict[str, TableWords]] = {
    "orders.stocklot": TableWords(_("Lots received"), _("Lot received")),
    "orders.stockmovement": TableWords(
        _("Stock ledger: in and out of lots"), _("Entry of the stock ledger")
    ),
    "orders.batchpart": TableWords(_("Orders in batches"), _("Order in a batch")),
    "orders.charge": TableWords(_("Weights charged"), _("Weight charged")),
    "orders.targetchange": TableWords(_("Target weights changed"), _("Target weight changed")),
    "orders.loweredpromise": TableWords(
        _("Grades lowered with the customer's word"), _("Grade lowered")
    ),
    "orders.qualityreading": TableWords(
        _("Readings of density and pH"), _("Reading of density and pH")
    ),
    "orders.packageserial": TableWords(_("Packages filled"), _("Package filled")),
    "orders.tankentry": TableWords(_("Tank ledger"), _("Entry of the tank ledger")),
    "orders.labelapproval": TableWords(_("Labels approved"), _("Label approved")),
    "orders.labelapprovalwithdrawn": TableWords(
        _("Approvals of labels withdrawn"), _("Approval withdrawn")
    ),
    "orders.paper": TableWords(_("Papers issued"), _("Paper issued")),
    "outbox.mail": TableWords(_("Mails sent and waiting"), _("Mail")),
}
_RECORDS: Final = _("Records, to look at")


def words_of(label: str) -> TableWords | None:
    """What a table (``app.model``) and its rows are called here; None for one without words."""
    grouped = (words[label] for _group, words in GROUPS if label in words)
    return next(grouped, RECORDS.get(label))


class BackOffice(admin.AdminSite):
    site_header = _("Back office")
    site_title = _("Back office")
    index_title = _("Back office")
    enable_nav_sidebar = False

    def get_app_list(self, request: HttpRequest, app_label: str | None = None) -> list[Any]:
        """The tables this person may see, by group; those of one app in its order."""
        listed = super().get_app_list(request, app_label)
        for row in (row for app in listed for row in app["models"]):
            if words := words_of(row["model"]._meta.label_lower):
                row["name"] = words.many
        if app_label is not None:
            return listed
        tables = {row["model"]._meta.label_lower: row for app in listed for row in app["models"]}
        groups = [
            (
                title,
                [tables.pop(label) for label in words if label in tables],
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
