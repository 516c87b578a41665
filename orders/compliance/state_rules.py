"""The rules of a state as a person reads them, and whom of the plant's customers they concern."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from django.db.models import Count, Exists, OuterRef, Q

from blendshop.accounts.models import Company
from formulas.engine.law import Duty, RulePack, Status
from formulas.engine.law.rules import Basis, Rule
from formulas.reference.rule_packs import rule_packs
from orders.compliance.notices import is_old
from orders.compliance.rule_changes import figures_of, title_of
from orders.models import LabelApproval, Order, RulesChange, ShipTo

#: Of labels, orders and customers of a state.
MOST_SHOWN: Final = 60


@dataclass(frozen=True, slots=True)
class RuleShown:
    """One rule or duty: what it says, and where that stands."""

    title: str
    figures: tuple[tuple[str, str], ...]
    basis: Basis
    is_old: bool

    @property
    def is_verified(self) -> bool:
        return self.basis.status is Status.ACTIVE


@dataclass(frozen=True, slots=True)
class PackShown:
    """The rules of the state, or of a county or place in it; ``changes`` the newest first."""

    pack: RulePack
    is_old: bool
    rules: tuple[RuleShown, ...]
    duties: tuple[RuleShown, ...]
    changes: tuple[RulesChange, ...]


@dataclass(frozen=True, slots=True)
class Concerned:
    """What of the plant goes to the state; ``labels`` with whether the rules changed since.

    Of each no more than ``MOST_SHOWN``, the most urgent; ``more`` says that there are others.
    """

    customers: tuple[Company, ...]
    orders: tuple[Order, ...]
    labels: tuple[tuple[LabelApproval, bool], ...]
    more: bool


@dataclass(frozen=True, slots=True)
class StateRow:
    """A line of the list: a state with rules on file, or one that is delivered to without any."""

    state: str
    packs: tuple[RulePack, ...]
    customers: int
    oldest: date | None
    is_old: bool


def packs_of(state: str) -> tuple[RulePack, ...]:
    """The state's own first, then those of its counties and places."""
    return tuple(pack for pack in rule_packs() if pack.state == state)


def shown(packs: Sequence[RulePack], today: date) -> tuple[PackShown, ...]:
    """Every rule of the packs, with what was found changed in them; one query."""
    changes: dict[str, list[RulesChange]] = {pack.code: [] for pack in packs}
    for change in RulesChange.objects.filter(code__in=changes):
        changes[change.code].append(change)
    return tuple(
        PackShown(
            pack,
            is_old(pack.date_checked, today),
            _shown(pack.rules, today),
            _shown(pack.duties, today),
            tuple(changes[pack.code]),
        )
        for pack in packs
    )


def _shown(rules: Iterable[Rule | Duty], today: date) -> tuple[RuleShown, ...]:
    return tuple(
        RuleShown(
            title_of(rule), figures_of(rule), rule.basis, is_old(rule.basis.date_checked, today)
        )
        for rule in rules
    )


def concerned(state: str, packs: Sequence[PackShown]) -> Concerned:
    """Customers delivered to there, what is on order for them, labels that are approved for it."""
    there = ShipTo.objects.filter(company=OuterRef("pk"), state=state, active=True)
    on_order = Order.objects.filter(ship_to__state=state).exclude(status__in=Order.ENDED)
    approved = LabelApproval.objects.standing().filter(state=state)
    last_change = max((each.at for pack in packs for each in pack.changes[:1]), default=None)
    rows = (
        Company.objects.filter(Exists(there)).order_by("name", "pk"),
        on_order.select_related("company").order_by("due_on", "pk"),
        approved.select_related("revision__blend", "package", "part__batch").order_by("at", "pk"),
    )
    customers, orders, labels = (list(each[: MOST_SHOWN + 1]) for each in rows)
    return Concerned(
        customers=tuple(customers[:MOST_SHOWN]),
        orders=tuple(orders[:MOST_SHOWN]),
        labels=tuple(
            (label, last_change is not None and label.at < last_change)
            for label in labels[:MOST_SHOWN]
        ),
        more=max(map(len, (customers, orders, labels))) > MOST_SHOWN,
    )


def state_rows(today: date) -> list[StateRow]:
    """States that are delivered to first, by name; then the others with rules on file."""
    active = ShipTo.objects.filter(active=True).order_by()
    counted = active.values_list("state").annotate(count=Count("company", distinct=True))
    customers = dict(counted.filter(~Q(state="")))
    states = customers.keys() | {pack.state for pack in rule_packs()}
    rows = []
    for state in states:
        packs = packs_of(state)
        oldest = min((pack.date_checked for pack in packs), default=None)
        rows.append(
            StateRow(
                state,
                packs,
                customers.get(state, 0),
                oldest,
                oldest is not None and is_old(oldest, today),
            )
        )
    return sorted(rows, key=lambda row: (not row.customers, row.state))
