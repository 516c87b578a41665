"""What there is to approve of a label, and how it differs from what was approved.

A label is approved for every load of a revision, so what belongs to one load is left out: lot, day,
purchaser, net weight, density, the rate of the order, and the cautions that only name what a trace
in the tank brings. The lines, the sources in their order, statements, warnings and the rules of the
state are all in; so is the package with what it holds.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from blendshop.figures.readers import house
from formulas.engine.label.grade_rules import GradeRule
from formulas.engine.label.printed_figures import text
from orders.frozen.approved_label import ApprovedLabel, ApprovedLine, LawEntry
from orders.labels.batch_label import BatchLabel
from orders.labels.blocks import ingredient_name
from orders.labels.view_models import LabelDraftView
from orders.models import BatchPart
from orders.papers import standing_texts

#: Printed on every label, or for any trace of a content.
_ON_ANY_LABEL: Final = frozenset(
    each.text for each in (*standing_texts.CAUTIONS, standing_texts.IRON, standing_texts.PHOSPHATE)
)


@dataclass(frozen=True, slots=True)
class Difference:
    """Something the label says otherwise than when it was approved; empty where it said nothing."""

    what: str | Promise
    before: str
    after: str


def to_approve(part: BatchPart, label: BatchLabel, view: LabelDraftView) -> ApprovedLabel:
    """The label as it stands; ``view`` is what prints ``label`` of the part."""
    return ApprovedLabel(
        product_name=view.product_name,
        package=_package_words(part),
        grade=view.grade,
        lines=tuple(ApprovedLine(line.key, line.label, line.pct) for line in view.guarantees),
        derived_from=view.derived_from,
        other_ingredients=tuple(
            f"{ingredient_name(item)} {text(item.pct)}%" for item in view.other_ingredients
        ),
        statements=tuple(
            filter(
                None,
                (
                    view.slow_release_statement,
                    view.stabilized_nitrogen_statement,
                    view.metals_statement,
                ),
            )
        ),
        warnings=tuple(caution for caution in view.cautions if caution not in _ON_ANY_LABEL),
        grade_rule=_grade_rule_words(label.rule),
        law=tuple(LawEntry(duty.topic, duty.text, duty.source) for duty in view.duties),
        only_of=part.batch.number if label.missed else "",
        metals_open=label.metals_open,
        net_contents=", ".join(
            (house().mass(view.net_mass_lb, 1), house().volume(view.net_volume_gal, 1))
        ),
        packs=tuple(
            f"{pack.jurisdiction}, checked {pack.date_checked.isoformat()}"
            for pack in label.packs.packs
        ),
    )


def _package_words(part: BatchPart) -> str:
    """The package and what it nominally holds; bulk is what the truck takes."""
    package, line = part.consignment.package, part.order_line
    if package.is_bulk:
        return package.name
    return f"{package.name}, {house().volume(line.volume_gal / line.quantity, 1)}"


def _grade_rule_words(rule: GradeRule) -> str:
    kinds = ", ".join(sorted(rule.fractions)) or "no kind"
    below_one = ", and for every kind below 1 %" if rule.below_one else ""
    return f"{rule.name}: fractions for {kinds}{below_one}. {rule.source}. {rule.note}".strip()


def differences(approved: ApprovedLabel, now: ApprovedLabel) -> tuple[Difference, ...]:
    """Everything that is not as it was approved; what was not written down then is not compared."""
    return tuple(_differences(approved, now))


def _differences(approved: ApprovedLabel, now: ApprovedLabel) -> Iterator[Difference]:
    yield from _if_other(_("Lines follow the weights of"), approved.only_of, now.only_of)
    yield from _if_other(_("Product name"), approved.product_name, now.product_name)
    if approved.package is not None:
        yield from _if_other(_("Package"), approved.package, now.package or "")
    yield from _if_other(_("Grade"), approved.grade, now.grade)
    yield from _lines(approved.lines, now.lines)
    for what, before, after in (
        (_("Derived from"), approved.derived_from, now.derived_from),
        (_("Beneficial substances"), approved.other_ingredients, now.other_ingredients),
    ):
        yield from _if_other(what, ", ".join(before), ", ".join(after))
    yield from _entries(_("Statement"), approved.statements, now.statements)
    if approved.warnings is not None:
        yield from _entries(_("Warning"), approved.warnings, now.warnings or ())
    if approved.grade_rule is not None:
        yield from _if_other(
            _("Grade rule of the state"), approved.grade_rule, now.grade_rule or ""
        )
    if approved.law is not None:
        yield from _entries(
            _("Rule of the state"), _law_words(approved.law), _law_words(now.law or ())
        )


def _if_other(what: str | Promise, before: str, after: str) -> Iterator[Difference]:
    if before != after:
        yield Difference(what, before, after)


def _lines(before: Iterable[ApprovedLine], after: Iterable[ApprovedLine]) -> Iterator[Difference]:
    """Line by line, in the order of the label that holds it; another order is a difference too."""
    was, now = ({line.key: line for line in lines} for lines in (before, after))
    changed = False
    for key in dict.fromkeys([*was, *now]):
        words = [
            f"{text(line.pct)}% {line.label}" if line else ""
            for line in (was.get(key), now.get(key))
        ]
        if words[0] != words[1]:
            changed = True
            yield Difference((was.get(key) or now[key]).label, *words)
    if not changed:
        orders = [", ".join(line.label for line in lines.values()) for lines in (was, now)]
        yield from _if_other(_("Order of the lines"), *orders)


def _entries(
    what: str | Promise, before: Iterable[str], after: Iterable[str]
) -> Iterator[Difference]:
    """Sentences that went or came; what only moved says the same."""
    was, now = list(before), list(after)
    gone = [entry for entry in was if entry not in now]
    come = [entry for entry in now if entry not in was]
    for place in range(max(len(gone), len(come))):
        yield Difference(what, *(each[place] if place < len(each) else "" for each in (gone, come)))


def _law_words(entries: Iterable[LawEntry]) -> list[str]:
    return [f"{entry.topic}: {entry.text} ({entry.source})" for entry in entries]
