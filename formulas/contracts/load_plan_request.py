"""The body of a load plan: a formulation's, and under ``load`` the tank it is made in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from formulas.contracts.nitrogen_total import forms_only
from formulas.contracts.strict_json import Node, Refusals
from formulas.engine.plant.load import (
    USUAL_TOLERANCE_PCT,
    FineScale,
    Heel,
    LoadQuestion,
    LoadScale,
)
from formulas.engine.plant.load_refusals import load_errors
from formulas.engine.problem import BlendProblem
from formulas.engine.result import Share

#: Of a heel of water, lb per gal at 60 F, computed by IAPWS-95 (see the catalogue's water).
WATER_LB_PER_GAL: Final = 8.337
#: Loads and divisions that a request may speak of.
LEAST_GAL: Final = 0.001
MOST_GAL: Final = 1_000_000.0
LEAST_STEP_LB: Final = 1e-6
MOST_STEP_LB: Final = 100_000.0


@dataclass(frozen=True, slots=True)
class ParsedLoad:
    """What ``load`` asks for."""

    volume_gal: float
    scale: LoadScale
    tolerance_pct: float
    heel: Heel | None
    capacity_gal: float | None

    def question(
        self, problem: BlendProblem, recipe: tuple[Share, ...] | None = None
    ) -> LoadQuestion:
        """The engine's question of a problem made in this load."""
        return LoadQuestion(
            problem=problem,
            volume_gal=self.volume_gal,
            recipe=recipe,
            scale=self.scale,
            tolerance_pct=self.tolerance_pct,
            heel=self.heel,
            capacity_gal=self.capacity_gal,
        )


def read_load(body: Any, refusals: Refusals) -> tuple[ParsedLoad | None, dict[str, Any]]:
    """The load (None where it is refused) and the formulation's body it stands beside.

    The load's volume replaces ``fill``.
    """
    if not isinstance(body, Mapping):
        refusals.add("", "Must be an object with named values.")
        return None, {}
    formulation = {key: value for key, value in body.items() if key != "load"}
    node = Node(body, "", refusals).child("load", required=True)
    if node is None or refusals.fields:
        return None, formulation
    volume_gal = node.number("volume_gal", required=True)
    step_lb = node.number("scale_step_lb")
    tolerance = node.number("tolerance_pct")
    load = ParsedLoad(
        volume_gal=1.0 if volume_gal is None else volume_gal,
        scale=LoadScale(step_lb, _fine_scale(node)),
        tolerance_pct=USUAL_TOLERANCE_PCT if tolerance is None else tolerance,
        heel=_heel(node, refusals),
        capacity_gal=node.number("capacity_gal"),
    )
    node.done()
    _refuse_beyond_scales(load, refusals)
    _add_engine_refusals(load, refusals)
    # A refused volume is named already; 1 keeps the formulation's list to the rest.
    filled = load.volume_gal if load.volume_gal > 0 else 1.0
    return load, {**formulation, "fill": {"volume_gal": filled}}


def _refuse_beyond_scales(load: ParsedLoad, refusals: Refusals) -> None:
    """Tanks and scales beyond any plant's: weights would no longer be counted in divisions."""
    fine = load.scale.fine
    for path, figure, least, most in (
        ("load.volume_gal", load.volume_gal, LEAST_GAL, MOST_GAL),
        ("load.capacity_gal", load.capacity_gal, LEAST_GAL, MOST_GAL),
        ("load.scale_step_lb", load.scale.step_lb, LEAST_STEP_LB, MOST_STEP_LB),
        (
            "load.fine_scale.step_lb",
            None if fine is None else fine.step_lb,
            LEAST_STEP_LB,
            MOST_STEP_LB,
        ),
    ):
        if figure is not None and figure > 0 and not least <= figure <= most:
            refusals.add(path, f"Must be from {least:g} to {most:,g}.")


def _add_engine_refusals(load: ParsedLoad, refusals: Refusals) -> None:
    """What the engine refuses of a load, unless the same place was refused while reading it."""
    for error in load_errors(load.question(BlendProblem(stocks=()))):
        if not refusals.covers(error.field):
            refusals.add(error.field, error.message)


def _fine_scale(node: Node) -> FineScale | None:
    item = node.child("fine_scale")
    if item is None:
        return None
    step_lb, max_lb = item.number("step_lb", required=True), item.number("max_lb", required=True)
    item.done()
    return None if step_lb is None or max_lb is None else FineScale(step_lb, max_lb)


def _heel(node: Node, refusals: Refusals) -> Heel | None:
    """A heel without contents is water; its density has to be given where it has any."""
    item = node.child("heel")
    if item is None:
        return None
    volume_gal = item.number("volume_gal", required=True)
    found = Refusals()
    analysis = forms_only(item.numbers("analysis"), found)
    for path, message in found.fields.items():
        refusals.add(item.at(path), message)
    density = item.number("density_lb_per_gal", required=bool(analysis))
    item.done()
    if density is None:
        density = WATER_LB_PER_GAL
    elif not density > 0:
        refusals.add(item.at("density_lb_per_gal"), "Density must be a number above 0.")
        return None
    # An empty tank may be said in figures, too.
    if not volume_gal:
        return None
    return Heel(mass_lb=volume_gal * density, volume_gal=volume_gal, analysis=analysis)
