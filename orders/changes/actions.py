"""Taking a change back: what stood before is written again, as a change of its own."""

from __future__ import annotations

from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import ChangedMeanwhile
from blendshop.roles import require_role
from blendshop.saving import save_valid
from formulas.stocks.actions.stocks import record_cost, traits_kept_as_one_change
from formulas.stocks.cost_moves import cost_move, sure_words
from orders.changes.entries import POLICY_FIGURES
from orders.changes.lines import Line
from orders.changes.taking_back import setters_of, undoing
from orders.models import PricePolicy


def take_back(*, acting_user: User, line: Line) -> None:
    """Write again what stood before the line. Quotes and papers that went out stay as they are.

    ChangedMeanwhile with the reason where it is not safe (any more); NotAllowed for whoever may not
    make such a change; BadInput where the figures of before no longer keep the record's rules.
    """
    require_role(acting_user, *setters_of(line.source))
    with transaction.atomic():
        found = undoing(line, acting_user, lock=True)
        if found.why_not:
            raise ChangedMeanwhile(found.why_not)
        if line.source == "StockCost":
            # The page showed both costs; saying yes to it is the answer to how far it moves.
            again = cost_move(found.live.stock, found.live, found.before.amount, found.before.unit)
            record_cost(
                acting_user=acting_user,
                sure_of=sure_words([again]),
                stock=found.live.stock,
                amount=found.before.amount,
                unit=found.before.unit,
                effective_from=found.live.effective_from,
                note=_taken_back(line)[:200],
            )
        elif line.source == "PricePolicy":
            figures: dict[str, Any] = {name: getattr(found.before, name) for name in POLICY_FIGURES}
            save_valid(
                PricePolicy(
                    effective_from=found.live.effective_from,
                    note=_taken_back(line)[:200],
                    **figures,
                ),
                acting_user,
            )
        else:
            for field in found.fields:
                setattr(found.live, field.attname, getattr(found.before, field.attname))
            found.live._change_reason = _taken_back(line)[:100]  # simple_history reads it there
            if found.traits is not None:
                with traits_kept_as_one_change(found.live):
                    found.live.traits.set(found.traits)
            save_valid(found.live, acting_user)


def _taken_back(line: Line) -> str:
    return _("Taken back: the change of {at}, by {who}").format(
        at=f"{line.at:%Y-%m-%d %H:%M} UTC", who=line.who or _("a program")
    )
