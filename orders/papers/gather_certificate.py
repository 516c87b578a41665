"""A released batch to the certificate of analysis of one of its parts."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from django.conf import settings
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from blendshop.errors import IllegalMove
from formulas.engine.composition import SLOW_RELEASE, content_pct, guarantee_name
from formulas.engine.label.assay_check import Verdict
from formulas.engine.label.printed_figures import PRECISION_PCT
from formulas.engine.plant.as_made import AsMade, GuaranteeAsMade
from formulas.wording.contents import content_word
from orders.models import Batch, BatchEvent, BatchPart, PlantProfile, QualityReading
from orders.papers import plant_view_models as paper
from orders.production.made_record import made_record
from orders.production.sold_as import SoldAs, sold_as
from orders.records.letterhead import Party, plant_block
from orders.records.written import ENGLISH, has_english_beside, writing, written_for


def certificate_view(part: BatchPart) -> paper.CertificateView:
    """What the customer gets, in its language and units.

    IllegalMove unless the batch is released and was analysed.
    """
    written = written_for(part.order_line.order.company)
    with writing(written):
        view = replace(_gathered(part), written=written)
    if not has_english_beside(written):
        return view
    with writing(ENGLISH):
        return replace(view, in_english=replace(_gathered(part), written=ENGLISH))


#: How a reading of the plant says it looks (``QualityReading.Appearance``), for other languages.
APPEARANCES: Final = (
    gettext_noop("one even liquid, no crystals, no layers"),
    gettext_noop("hazy or cloudy"),
    gettext_noop("crystals or sediment"),
    gettext_noop("layers"),
    gettext_noop("something else (see the note)"),
)


def _gathered(part: BatchPart) -> paper.CertificateView:
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
    grades = {"ordered": sold.promised_grade, "sold": sold.grade}
    if lowered is None:
        if sold.is_lowered and sold.follows_weights:
            yield _("Ordered as {ordered} and sold as {sold}.").format(**grades)
    elif sold.is_lowered:
        yield _("Ordered as {ordered} and sold as {sold}, as agreed with {person}.").format(
            **grades, person=lowered.agreed_with
        )
    else:
        yield _("Guaranteed less than was ordered, as agreed with {person}.").format(
            person=lowered.agreed_with
        )


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
    found, method = made_pct, _("calculated")
    if reading is not None and key in reading.lab_analysis:
        found, method = reading.lab_analysis[key], reading.lab_source
    name = content_word(guarantee_name(key))
    if key == SLOW_RELEASE:
        name = _("{name}, percent of N").format(name=name)
    is_met = found >= guaranteed_pct - PRECISION_PCT
    return paper.CertifiedFigure(
        name=name,
        guaranteed_pct=guaranteed_pct,
        found_pct=round(found, 4),
        method=method,
        words=_("meets its guarantee") if is_met else _("below its guarantee"),
    )


def _last_move(batch: Batch, to: str) -> BatchEvent:
    """The event that brought the batch into a state; a note within the state is none."""
    moves = batch.events.filter(to_status=to).exclude(from_status=to)
    newest: BatchEvent = moves.order_by("-pk")[0]
    return newest
