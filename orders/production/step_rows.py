"""The weighings as screen and papers show them: targets, words, protection, lots to take."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.utils.translation import gettext as _

from blendshop.figures.readers import reader
from blendshop.figures.writing import step_places
from formulas.models import BaseStock
from orders.frozen.load_plan import PlannedWeighing, StockSafety, Weighing
from orders.inventory.levels import suggested_lots
from orders.models import Batch, StockLot
from orders.production.steps import Step, WeighingStatus


@dataclass(frozen=True, slots=True)
class StepRow:
    """One weighing as the screen shows it."""

    step: Step
    weight: str
    charged: str
    words: str
    ppe: str
    wear: str
    scale: str
    lots: tuple[StockLot, ...]

    @property
    def number(self) -> int:
        return self.step.number

    @property
    def needs_lot(self) -> bool:
        """Water from the main alone has none."""
        return not self.step.is_water or bool(self.lots)


def step_words(step: Step) -> str:
    """How a weighing stands, in words that need no colour."""
    off = reader().every_digit(abs(step.off_lb))
    return {
        WeighingStatus.WAITING: _("not weighed yet"),
        WeighingStatus.UNDER: _("%(off)s lb under") % {"off": off},
        WeighingStatus.ON_TARGET: _("on target"),
        WeighingStatus.OVER: _("%(off)s lb over") % {"off": off},
    }[step.status]


def step_rows(batch: Batch, steps: Sequence[Step], today: date) -> list[StepRow]:
    """Every weighing; its usable lots with those the plan names in front."""
    safety = {stock.code: stock for stock in batch.load_plan.safety}
    has_two_scales = any(step.is_on_fine_scale for step in steps)
    ids = dict(
        BaseStock.objects.filter(code__in={step.code for step in steps}).values_list("code", "pk")
    )
    lots = suggested_lots(list(ids.values()), today)
    return [
        StepRow(
            step=step,
            weight=_at_scale(step.target_lb, step),
            charged=_at_scale(step.charged_lb, step),
            words=step_words(step),
            ppe=_ppe(safety.get(step.code)),
            wear=_wear(safety.get(step.code)),
            scale=_scale(step) if has_two_scales else "",
            lots=_planned_first(step, lots[ids[step.code]]),
        )
        for step in steps
    ]


def _planned_first(step: Step, lots: Sequence[StockLot]) -> tuple[StockLot, ...]:
    planned = planned_lots(step.planned)
    return tuple(sorted(lots, key=lambda lot: lot.code not in planned))


def planned_lots(weighing: Weighing) -> frozenset[str]:
    """Codes of the lots the plan takes a weighing from; none where it went by typical figures."""
    if isinstance(weighing, PlannedWeighing):
        return frozenset(lot.code for lot in weighing.lots)
    return frozenset()


def _scale(step: Step) -> str:
    """Which of the tank's two scales."""
    says = (
        _("on the small scale, %(division)s lb divisions")
        if step.is_on_fine_scale
        else _("on the main scale, %(division)s lb divisions")
    )
    return says % {"division": reader().every_digit(step.scale_step_lb)}


def _ppe(stock: StockSafety | None) -> str:
    """The line that is always on the screen."""
    if stock is None or not stock.ppe:
        return _("Wear and hazards: by the SDS")
    return _("Wear: %(ppe)s") % {"ppe": "; ".join(stock.ppe)}


def _wear(stock: StockSafety | None) -> str:
    """Protection and hazards frozen in the plan, and who decides."""
    sds_decides = _("Read the stock's SDS before opening it; the SDS decides.")
    if stock is None:
        return sds_decides
    parts = [
        _("Wear: %(ppe)s.") % {"ppe": "; ".join(stock.ppe)} if stock.ppe else "",
        _("Hazards: %(hazards)s.") % {"hazards": ". ".join(stock.hazards)} if stock.hazards else "",
        sds_decides,
    ]
    return " ".join(part for part in parts if part)


def _at_scale(mass: Decimal, step: Step) -> str:
    """At least the places of the scale; a charge may carry more and shows them."""
    if mass == round(mass, step_places(step.scale_step_lb)):
        return reader().scale_weight(mass, step.scale_step_lb)
    return reader().every_digit(mass)


def lot_words(lot: StockLot) -> str:
    """``L-2026-0003, 12,400 lb, last day March 2, 2027, tank 4``."""
    parts = [lot.code, reader().weighed(lot.on_hand_lb)]
    if lot.expires_on:
        parts.append(_("last day %(expires_on)s") % {"expires_on": reader().date(lot.expires_on)})
    if lot.location:
        parts.append(lot.location)
    return ", ".join(parts)
