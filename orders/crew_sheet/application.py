"""An application as it is asked for, and what of a product is put on the lawn with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils import timezone

from blendshop.figures.readers import house
from formulas.answers.spray import SprayAnswer
from formulas.contracts.spray_sheet import spray_sheet
from formulas.engine.composition import slow_n_pct
from formulas.engine.field.osmotic_load import dissolved_pct, triazone_n_pct
from formulas.engine.result import Share
from formulas.engine_bridge import load_catalogue
from formulas.models import BlendRevision
from orders.frozen.crew_figures import CrewFigures
from orders.labels.batch_label import batch_label
from orders.labels.view import label_draft_view
from orders.models import Batch, BatchPart, Order, OrderLine
from orders.quoting.customer_cautions import JAR_FIRST, standing_cautions

#: Of these nothing is sprayed.
NEVER_SPRAYED = (Order.Status.REQUESTED, Order.Status.CANCELLED, Order.Status.DECLINED)
_MADE = (Batch.Status.MADE, Batch.Status.HELD, Batch.Status.RELEASED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Application:
    """What is typed for a sheet: rates and volumes per 1,000 sq ft, exactly one of the two rates.

    A boom has ``nozzle_spacing_in`` and ``speed_mph``, a hand gun ``seconds_per_1000sqft``.
    """

    place: str
    state: str
    area_sqft: float
    carrier_gal_per_1000sqft: float
    tank_gal: float
    from_on: date
    until_on: date
    n_rate_lb_per_1000sqft: float | None = None
    product_fl_oz_per_1000sqft: float | None = None
    grass: str = ""
    nozzle_count: int = 1
    nozzle_spacing_in: float | None = None
    speed_mph: float | None = None
    seconds_per_1000sqft: float | None = None
    note: str = ""
    language: str = "en"


def made_parts(line: OrderLine) -> list[BatchPart]:
    """The lots of a line that are made, the newest first, as a label is drafted from them."""
    parts = BatchPart.objects.filter(order_line=line, batch__status__in=_MADE)
    return list(parts.with_label().order_by("-pk"))


def crew_figures(line: OrderLine, part: BatchPart | None, application: Application) -> CrewFigures:
    """The product as its label has it, and the spray contract's answer.

    Of what is not made yet analysis and density are the recipe's. BadInput names refused figures.
    """
    if part is not None:
        return _of_lot(line, part, application)
    revision = line.revision
    analysis, density = revision.solved.analysis, revision.solved.totals.density_lb_per_gal
    return CrewFigures(
        product_name=revision.blend.name,
        grade=revision.grade,
        lot="",
        analysis=dict(analysis),
        density_lb_per_gal=density,
        guarantees=(),
        derived_from=(),
        cautions=tuple(found.message for found in standing_cautions([revision])),
        spray=_sprayed(revision, analysis, density, application),
    )


def _of_lot(line: OrderLine, part: BatchPart, application: Application) -> CrewFigures:
    label = batch_label(part)
    view, printed = label_draft_view(part, label), label.printed
    analysis, density = printed.analysis, printed.density_lb_per_gal
    return CrewFigures(
        product_name=part.product_name,
        grade=view.grade,
        lot=view.lot,
        analysis=dict(analysis),
        density_lb_per_gal=density,
        guarantees=tuple((row.label, house().guarantee(row.pct)) for row in view.guarantees),
        derived_from=view.derived_from,
        cautions=tuple(dict.fromkeys([*view.cautions, JAR_FIRST.text])),
        spray=_sprayed(line.revision, analysis, density, application),
    )


def _sprayed(
    revision: BlendRevision, analysis: Mapping[str, float], density: float, asked: Application
) -> SprayAnswer:
    shares = [Share(code, pct) for code, pct in revision.lines.values_list("stock__code", "pct")]
    stocks = load_catalogue(timezone.localdate(), include_short=True).stocks
    body: dict[str, Any] = {
        "analysis": {key: pct for key, pct in analysis.items() if key != "N"},
        "density_lb_per_gal": density,
        "carrier_gal_per_1000sqft": asked.carrier_gal_per_1000sqft,
        "n_rate_lb_per_1000sqft": asked.n_rate_lb_per_1000sqft,
        "product_fl_oz_per_1000sqft": asked.product_fl_oz_per_1000sqft,
        "tank_gal": asked.tank_gal,
    }
    # A stock that left the catalogue: what was dissolved in it is not known any more.
    if {share.code for share in shares} <= {stock.code for stock in stocks}:
        body["solutes"] = dissolved_pct(shares, stocks)
        body["triazone_n_pct"] = min(triazone_n_pct(shares, stocks), slow_n_pct(analysis))
    return spray_sheet(body)
