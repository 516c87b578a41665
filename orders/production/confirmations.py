"""What a weight is asked about before it is written down: slips that a scale cannot know of.

The charging screen asks the same while the network is away (``asks`` in ``decisions.js``); tests
hold both to one table.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from typing import Final

from django.utils.translation import gettext as _

from blendshop.errors import DomainError
from blendshop.figures.readers import house
from formulas.engine.mark import Mark
from orders.models import Batch, Charge, StockLot
from orders.production.as_made import as_made
from orders.production.steps import Step

#: So much of a step above its target is more likely a slip of the finger than a weight.
MOST_OVER_PCT: Final = Decimal(10)
MOST_OVER_BASIS: Final = Mark.COMMON_PRACTICE
#: Volumes are floats; a tank that is full to the brim is not too full.
_NOISE_GAL: Final = 1e-6


class Question(StrEnum):
    """What a person has to say yes to."""

    OVER_TARGET = "over_target"
    OVER_TANK = "over_tank"
    ANOTHER = "another"


@dataclass(frozen=True, slots=True)
class Asked:
    """One question, with the sentence that asks it."""

    question: Question
    words: str


class Unconfirmed(DomainError):
    """A weight that is written down only once a person has said that it is meant.

    ``asked`` are the open questions; ``charged_lb`` is what is in for the step by now.
    """

    code = "unconfirmed"
    status = 409

    def __init__(self, asked: Sequence[Asked], charged_lb: Decimal) -> None:
        self.asked = tuple(asked)
        self.charged_lb = charged_lb
        super().__init__(" ".join(each.words for each in asked))


def require_confirmed(
    batch: Batch,
    steps: Sequence[Step],
    step: Step,
    lot: StockLot | None,
    mass_lb: Decimal,
    *,
    seen_lb: Decimal | None,
    confirmed: Collection[str],
) -> None:
    """Raise ``Unconfirmed`` naming every question about this weight nobody has answered.

    ``seen_lb`` is what was in for the step on the screen the weight was typed at; None where
    there was no screen. Whoever confirms another weight sends what is in by now instead.
    """
    asked = []
    if seen_lb is not None and step.charges and step.charged_lb != seen_lb:
        asked.append(Asked(Question.ANOTHER, another_words(step)))
    if is_over_target(step.target_lb, step.charged_lb + mass_lb):
        asked.append(Asked(Question.OVER_TARGET, over_target_words(step, mass_lb)))
    volume_gal = _volume_gal(batch, steps, step, lot, mass_lb)
    if is_over_tank(volume_gal, batch.tank.capacity_gal):
        asked.append(Asked(Question.OVER_TANK, over_tank_words(batch, volume_gal)))
    open_ = [each for each in asked if each.question not in confirmed]
    if open_:
        raise Unconfirmed(open_, step.charged_lb)


def is_over_target(target_lb: Decimal, charged_lb: Decimal) -> bool:
    """Whether a step's total is so far above its target that it is asked about.

    >>> is_over_target(Decimal(80), Decimal(88)), is_over_target(Decimal(80), Decimal("88.001"))
    (False, True)
    """
    return charged_lb * 100 > target_lb * (100 + MOST_OVER_PCT)


def is_over_tank(volume_gal: float, capacity_gal: float) -> bool:
    """Whether so much does not fit into the tank."""
    return volume_gal > capacity_gal + _NOISE_GAL


def over_target_words(step: Step, mass_lb: Decimal) -> str:
    total = step.charged_lb + mass_lb
    over = house().weighed(total - step.target_lb)
    return _(
        "%(total)s of %(step)s is %(over)s above the target of %(target_lb)s."
        " Is that really in the tank?"
    ) % {
        "total": house().weighed(total),
        "step": step.name,
        "over": over,
        "target_lb": house().weighed(step.target_lb),
    }


def over_tank_words(batch: Batch, volume_gal: float) -> str:
    return _(
        "With this weight %(volume_gal)s would be in %(tank)s, which holds"
        " %(capacity_gal)s. Is the weight right?"
    ) % {
        "volume_gal": house().volume(volume_gal, 0),
        "tank": batch.tank.name,
        "capacity_gal": house().volume(batch.tank.capacity_gal, 0),
    }


def another_words(step: Step) -> str:
    last = step.charges[-1]
    return _(
        "%(charged_lb)s of %(step)s is in already, the last of it saved by"
        " %(who)s: is this another weight?"
    ) % {"charged_lb": house().weighed(step.charged_lb), "step": step.name, "who": last.who}


def _volume_gal(
    batch: Batch, steps: Sequence[Step], step: Step, lot: StockLot | None, mass_lb: Decimal
) -> float:
    """What would be in the tank, by each lot's own density."""
    more = Charge(batch=batch, step=step.number, lot=lot, mass_lb=mass_lb)
    after = [
        replace(each, charges=(*each.charges, more)) if each is step else each for each in steps
    ]
    made = as_made(batch, after)
    return 0.0 if made is None else made.volume_gal
