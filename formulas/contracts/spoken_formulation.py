"""A formulation asked for in one line: ``{"line": "24-0-3 half slow, 4 totes"}``.

The line stands for the keys it means. Other keys may stand beside it as long as they say nothing
of what the line says. The answer then holds ``understood``, the body that asks the same without
a line, and ``understood_beside``, what was said of the lawn and is no part of a formulation, under
the keys of a spray sheet (and ``state``). A line of which anything is unclear is refused.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Final, NamedTuple

from django.utils.translation import gettext as _

from blendshop.errors import BadInput
from formulas.contracts.formulation import Formulation, formulate
from formulas.contracts.strict_json import Node, Refusals
from formulas.contracts.wish_costs import with_wish_costs
from formulas.engine_bridge import Catalogue
from formulas.spoken_wish.reading import Heard, read_line
from formulas.spoken_wish.request_body import not_of_a_formulation, request_body, spray_facts
from formulas.spoken_wish.sources import NamedStock
from formulas.spoken_wish.wording import open_words

LINE: Final = "line"


@dataclass(frozen=True, slots=True)
class SpokenFormulation:
    """A formulation and, where it was asked for in a line, what the line was taken for."""

    formulation: Formulation
    understood: Mapping[str, Any] | None = None
    understood_beside: Mapping[str, Any] = field(default_factory=dict)

    def contract_json(self) -> dict[str, Any]:
        answer = self.formulation.answer.contract_json()
        if self.understood is None:
            return answer
        return answer | {
            "understood": dict(self.understood),
            "understood_beside": dict(self.understood_beside),
        }


def formulate_spoken(body: Any, *, catalogue: Catalogue | None) -> SpokenFormulation:
    """Answer a request that may hold a ``line``, with ``wish_costs``.

    Refusals as in ``formulate``, and of the line.
    """
    if not isinstance(body, Mapping):
        return SpokenFormulation(with_wish_costs(formulate(body, catalogue=catalogue)))
    beside = {key: value for key, value in body.items() if key != LINE}
    if body.get(LINE) is None:
        return SpokenFormulation(with_wish_costs(formulate(beside, catalogue=catalogue)))
    refusals = Refusals()
    line = body[LINE]
    if not isinstance(line, str) or not line.strip():
        Node({LINE: line}, "", refusals).text(LINE)
        raise refusals.error()
    stocks = tuple(_own_stocks(body) if body.get("stocks") is not None else _offered(catalogue))
    heard = read_line(line, [stock.code for stock in stocks])
    refuse_unclear(heard)
    said = request_body(heard, stocks)
    understood = _joined(beside, said)
    return SpokenFormulation(
        with_wish_costs(formulate(understood, catalogue=catalogue)), understood, spray_facts(heard)
    )


def refuse_unclear(heard: Heard) -> None:
    """BadInput for a line that means more or less than a formulation can hold."""
    words = open_words(heard)
    unheld = ", ".join(said.words for said in not_of_a_formulation(heard))
    if unheld:
        words += " " * bool(words) + _(
            "A formulation knows no law, no selling price and no delivery: leave out {words}."
        ).format(words=unheld)
    if not words and not heard.said:
        words = _("The line asks for nothing.")
    if words:
        raise BadInput(_("The line is not clear."), fields={LINE: words})


class _Own(NamedTuple):
    code: str
    name: str
    traits: frozenset[str]


def _own_stocks(body: Mapping[str, Any]) -> Iterator[NamedStock]:
    """Stocks of the request, as far as they read; what is wrong with them is said later."""
    stocks = body["stocks"]
    for row in stocks if isinstance(stocks, list) else ():
        if isinstance(row, Mapping) and isinstance(code := row.get("code"), str) and code.strip():
            name, traits = row.get("name"), row.get("traits")
            yield _Own(
                code,
                name if isinstance(name, str) and name.strip() else code,
                frozenset(map(str, traits if isinstance(traits, list) else ())),
            )


def _offered(catalogue: Catalogue | None) -> tuple[NamedStock, ...]:
    return () if catalogue is None else catalogue.stocks


def _joined(beside: dict[str, Any], said: Mapping[str, Any]) -> dict[str, Any]:
    """Both together; BadInput naming line and key where they speak of the same."""
    conflicts: dict[str, str] = {}
    joined = dict(beside)
    for key, value in said.items():
        if beside.get(key) in (None, [], {}):
            joined[key] = value
        elif key == "targets" and isinstance(beside[key], list):
            conflicts |= _twice(beside[key], value)
            joined[key] = [*beside[key], *value]
        else:
            conflicts[key] = _("The line says this too.")
    if conflicts:
        named = ", ".join(conflicts)
        conflicts[LINE] = _("Says what stands in {named} too: say it once.").format(named=named)
        raise BadInput(_("The line and other keys say the same."), fields=conflicts)
    return joined


def _twice(beside: list[Any], said: list[Mapping[str, Any]]) -> dict[str, str]:
    spoken = {target["nutrient"] for target in said}
    return {
        f"targets.{index}": _("The line says this too.")
        for index, target in enumerate(beside)
        if isinstance(target, Mapping) and target.get("nutrient") in spoken
    }
