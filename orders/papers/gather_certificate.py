"""A released batch to the certificate of analysis of one of its parts."""

from __future__ import annotations

import math
from collections.abc import Iterator

from django.conf import settings
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import override

from blendshop.errors import IllegalMove
from formulas.engine.composition import SLOW_RELEASE, content_pct, guarantee_name
from formulas.engine.label.assay_check import Verdict
from formulas.engine.label.printed_figures import PRECISION_PCT
from formulas.engine.plant.as_made import AsMade, GuaranteeAsMade
from orders.models import Batch, BatchEvent, BatchPart, PlantProfile, QualityReading
from orders.papers import plant_view_models as paper
from orders.production.made_record import made_record
from orders.production.sold_as import SoldAs, sold_as
from orders.records.letterhead import Party, plant_block

_MEETS = "meets its guarantee"
_BELOW = "below its guarantee"


@override(settings.LANGUAGE_CODE)
def certificate_view(part: BatchPart) -> paper.CertificateView:
    """What the customer gets; IllegalMove unless the batch is released and was analysed."""
    batch = part.batch
    if batch.status != Batch.Status.RELEASED:
        raise IllegalMove(f"{batch.number} is not released; no certificate is issued for it.")
    record = made_record(batch)
    made, reading, density = record.complete, record.reading, record.density
    if made is None:
        raise IllegalMove(
            f"{batch.number} was weighed from the printed ticket: without charges written down"
            " here its analysis cannot be certified."
        )
    to, sold = part.consignment, sold_as(record, part)
    release, made_on = (_last_move(batch, to) for to in (Batch.Status.RELEASED, Batch.Status.MADE))
    return paper.CertificateView(
        page_url=settings.SITE_URL + reverse("part_page", args=[batch.number, part.position]),
        plant=plant_block(PlantProfile.load()),
        number=batch.number,
        product_name=part.product_name,
        grade=sold.grade,
        customer=Party(to.customer_name, to.ship_to_lines),
        order_number=to.order_number,
        customer_reference=part.order_line.order.customer_reference,
        made_on=timezone.localdate(made_on.at),
        released_on=timezone.localdate(release.at),
        released_by=release.who,
        figures=tuple(_figures(sold, made, reading)),
        density_lb_per_gal=density.lb_per_gal,
        density_temperature_f=density.temperature_f,
        density_is_calculated=not density.is_read,
        ph=None if reading is None else reading.ph,
        appearance="" if reading is None else reading.get_appearance_display(),
        remarks=tuple(_remarks(sold)),
    )


def _remarks(sold: SoldAs) -> Iterator[str]:
    """What is not as ordered. Why is the plant's own matter and stands in the batch record."""
    lowered = sold.record.batch.lowered_promise
    agreed = "" if lowered is None else f", as agreed with {lowered.agreed_with}"
    if sold.is_lowered and (lowered is not None or sold.follows_weights):
        yield f"Ordered as {sold.promised_grade} and sold as {sold.grade}{agreed}."
    elif lowered is not None:
        yield f"Guaranteed less than was ordered{agreed}."


def _figures(
    sold: SoldAs, made: AsMade, reading: QualityReading | None
) -> Iterator[paper.CertifiedFigure]:
    """Every guarantee of the label, then what was promised without a line on it."""
    for key, pct in sold.lines.items():
        yield _certified(key, float(pct), content_pct(made.analysis, key), reading)
    for check in made.guarantees:
        if check.key not in sold.lines and (least := _still_promised(check)) is not None:
            yield _certified(check.key, least, check.made_pct, reading)


def _still_promised(check: GuaranteeAsMade) -> float | None:
    """What is left of a promise that no line prints; a share in whole percents, as it is sold."""
    if check.verdict is Verdict.MEETS:
        return check.guaranteed_pct
    return float(math.floor(check.made_pct)) if check.key == SLOW_RELEASE else None


def _certified(
    key: str, guaranteed_pct: float, made_pct: float, reading: QualityReading | None
) -> paper.CertifiedFigure:
    """The laboratory's figure where there is one, else the calculated one, marked as such."""
    found, method = made_pct, "calculated"
    if reading is not None and key in reading.lab_analysis:
        found, method = reading.lab_analysis[key], reading.lab_source
    name = guarantee_name(key)
    return paper.CertifiedFigure(
        name=f"{name}, percent of N" if key == SLOW_RELEASE else name,
        guaranteed_pct=guaranteed_pct,
        found_pct=round(found, 4),
        method=method,
        words=_MEETS if found >= guaranteed_pct - PRECISION_PCT else _BELOW,
    )


def _last_move(batch: Batch, to: str) -> BatchEvent:
    """The event that brought the batch into a state; a note within the state is none."""
    moves = batch.events.filter(to_status=to).exclude(from_status=to)
    newest: BatchEvent = moves.order_by("-pk")[0]
    return newest
