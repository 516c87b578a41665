"""The strip of the blend on the page, from the answers the page has already."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from formulas.answers.answer import BlendFigures
from formulas.jar_tests.storage import StorageCheck
from orders.blend_page.law import LawPanel
from orders.blend_page.prices import Price
from orders.blend_page.spray import Spray
from orders.blend_page.wish_form import WishForm
from orders.inventory.cover import StockCover
from orders.verdict.results import (
    burn_result,
    cold_result,
    law_result,
    mix_result,
    stock_result,
    tested_result,
)
from orders.verdict.strip import Strip, StripResult


def page_strip(
    blend: BlendFigures,
    form: WishForm,
    *,
    spray: Spray | None,
    storage: StorageCheck | None,
    law: LawPanel | None,
    price: Price | None,
    cover: Sequence[StockCover] | None,
) -> Strip:
    """Customers read no stock on hand: that is the plant's own matter."""
    return Strip.of(_results(blend, form, spray, storage, law, price, cover))


def _results(
    blend: BlendFigures,
    form: WishForm,
    spray: Spray | None,
    storage: StorageCheck | None,
    law: LawPanel | None,
    price: Price | None,
    cover: Sequence[StockCover] | None,
) -> Iterator[StripResult]:
    cleaned = form.cleaned_data
    mix = mix_result(blend.stops)
    if mix is not None:
        yield mix
    yield burn_result(
        spray.cautions if spray else (),
        n_rate_lb=cleaned.get("n_rate"),
        carrier_gal=cleaned.get("carrier"),
        missing=spray.problem if spray else "",
    )
    yield cold_result(storage)
    yield law_result(
        law.report if law else None,
        missing=law.problem if law else "",
        is_forbidden=bool(law and law.rate_is_forbidden),
    )
    if form.options.is_staff:
        due = price.due.due_on if price and price.due else None
        yield stock_result(cover, due)
    yield tested_result(storage)
