"""The due-date contract over HTTP: lines in, the earliest date they can be promised for back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from django.utils import timezone
from rest_framework import serializers

from blendshop.accounts.models import User
from blendshop.accounts.signed_in import signed_in
from formulas.contracts.strict_json import Node, Refusals
from formulas.http_api.contract import ContractView, described
from formulas.http_api.schema import Shape
from formulas.models import BaseStock, Blend, BlendRevision
from orders.models import Package
from orders.planning.backlog import WantedBlend
from orders.planning.default_load import tanks_in_use
from orders.planning.due_dates import FROM_STOCK, read_due_dates
from orders.planning.recipe_meetings import recipe_shares_pct

_MOST_LINES: Final = 20
_MOST_PACKAGES: Final = 100_000


class RecipeLineShape(Shape):
    code = serializers.CharField(help_text="Code of a base stock.")
    pct = serializers.FloatField(help_text="Percent by weight.")


class DueDateLineShape(Shape):
    package = serializers.CharField(help_text="Code of a package the plant fills.")
    quantity = serializers.IntegerField(help_text="Packages; in bulk whole gallons.")
    revision = serializers.IntegerField(
        required=False, help_text="A saved blend's revision; instead of a recipe."
    )
    recipe = RecipeLineShape(many=True, required=False)


class DueDateRequestShape(Shape):
    lines = DueDateLineShape(many=True, help_text=f"One to {_MOST_LINES}, made one by one.")


class DueDateAnswerShape(Shape):
    due_on = serializers.DateField(help_text="The later of released_on and usual_on.")
    made_on = serializers.DateField(help_text="The last load, after everything that is open.")
    released_on = serializers.DateField(help_text="After the days for reading and release.")
    usual_on = serializers.DateField(help_text="The plant's lead time after today.")
    not_counted = serializers.CharField(help_text="What the date leaves out, a sentence.")


@described(
    "due_date",
    "Ask for the earliest due date",
    "The first day on which so many packages can be made and released after all that is ordered "
    "already: by the tanks' loads a day, flushes, and the days on which the plant works. The same "
    "date as on the blend page, a quote of today and a reorder.",
    request=DueDateRequestShape,
    answer=DueDateAnswerShape,
    examples={
        "Two totes of a recipe": {
            "lines": [
                {
                    "package": "tote-265",
                    "quantity": 2,
                    "recipe": [{"code": "UAN32", "pct": 75}, {"code": "WATER", "pct": 25}],
                }
            ]
        }
    },
)
class DueDateView(ContractView):
    def answer(self, body: Any) -> Mapping[str, Any]:
        return due_date(body, signed_in(self.request))


def due_date(body: Any, user: User) -> Mapping[str, Any]:
    """Answer a due-date request; ``BadInput`` names every refused field, or that no tank is in use.

    All lines together are limited: each load of them is put on a day.
    """
    refusals = Refusals()
    node = Node(body, "", refusals)
    lines = list(node.children("lines"))
    if not 1 <= len(lines) <= _MOST_LINES:
        refusals.add("lines", f"One to {_MOST_LINES} lines.")
    wanted = [_wanted(line, user) for line in lines[:_MOST_LINES]]
    node.done()
    asked = [each for each in wanted if each is not None]
    if sum(each.quantity for each in asked) > _MOST_PACKAGES:
        refusals.add("lines", f"At most {_MOST_PACKAGES:,} packages together.")
    if refusals.fields:
        raise refusals.error()
    tanks_in_use()  # without one nothing is made by any day
    found = read_due_dates(timezone.localdate()).of(asked)
    return {
        "due_on": found.due_on.isoformat(),
        "made_on": found.made_on.isoformat(),
        "released_on": found.released_on.isoformat(),
        "usual_on": found.usual_on.isoformat(),
        "not_counted": str(FROM_STOCK),
    }


def _wanted(node: Node, user: User) -> WantedBlend | None:
    """One line; None when something of it was refused."""
    package = Package.objects.filter(active=True, code=node.text("package", required=True)).first()
    if package is None:
        node.refusals.add(node.at("package"), "Is not a package the plant fills.")
    quantity = node.whole_number("quantity")
    if quantity is None or not 1 <= quantity <= _MOST_PACKAGES:
        node.refusals.add(node.at("quantity"), f"Must be from 1 to {_MOST_PACKAGES:,}.")
    shares = _of_revision(node, user) if node.has("revision") else _of_recipe(node)
    node.done()
    if package is None or quantity is None or not shares:
        return None
    return WantedBlend(package, quantity, shares)


def _of_revision(node: Node, user: User) -> Mapping[str, float]:
    pk = node.whole_number("revision")
    visible = BlendRevision.objects.filter(blend__in=Blend.objects.visible_to(user), pk=pk)
    if pk is None or not visible.exists():
        node.refusals.add(node.at("revision"), "Is not a revision you may see.")
        return {}
    return recipe_shares_pct([pk])[pk]


def _of_recipe(node: Node) -> Mapping[str, float]:
    shares: dict[str, float] = {}
    for line in node.children("recipe"):
        code, pct = line.text("code", required=True), line.number("pct", required=True)
        line.done()
        if code is not None and pct is not None and pct > 0:
            shares[code] = pct
    known = set(BaseStock.objects.filter(code__in=shares).values_list("code", flat=True))
    for code in shares.keys() - known:
        node.refusals.add(node.at("recipe"), f"{code} is not a base stock.")
    if not shares:
        node.refusals.add(node.at("recipe"), "A recipe or a revision is needed.")
    return shares
