"""From a catalogue to an order: the shortest road, for tests of what comes after it."""

from collections.abc import Mapping
from dataclasses import replace
from functools import cache, partial
from typing import Any, Final

from django.utils import timezone

from blendshop.accounts.models import Company, User
from formulas.blends.actions import save_blend
from formulas.blends.reviews import is_reviewed
from formulas.models import BlendRevision, RecipeReview
from orders.models import (
    Batch,
    Order,
    OrderLine,
    Package,
    Quote,
    ShipTo,
)
from orders.ordering.actions import place_order
from orders.quoting.actions.quotes import accept_quote, draft_quote, send_quote
from orders.quoting.draft_prices import DraftLine, line_figures, price_draft
from tests.factories import ShipToFactory, make_price_setup, make_simple_catalogue
from tests.remembered_rows import RememberedRows

#: 24 % nitrogen, half of it slow release, 3 % potash: the wish of the README.
WISH: Mapping[str, Any] = {
    "targets": [{"nutrient": "N", "min": 24}, {"nutrient": "K2O", "min": 3}],
    "slow_release_pct": {"min": 50},
    "fill": {"volume_gal": 265},
}


def _build_shop() -> None:
    make_simple_catalogue()
    make_price_setup()


_SHOP: Final = RememberedRows(_build_shop)


def make_shop() -> None:
    """A plant that can price and blend."""
    _SHOP()


def save_half_slow(
    by: User, company: Company | None, name: str = "Half slow summer", wish: Any = WISH
) -> BlendRevision:
    return save_blend(
        acting_user=by, name=name, company=company, wish=wish, today=timezone.localdate()
    )


def freeze_otherwise(batch: Batch, **changes: Any) -> None:
    """As if the batch's plan had been frozen with these; the program never edits a plan."""
    batch.plan = replace(batch.load_plan, **changes).to_json()
    batch.save()


def sent_quote(
    rep: User,
    revision: BlendRevision,
    ship_to: ShipTo,
    *,
    quantity: int = 4,
    package: Package | None = None,
    n_rate: float | None = 0.7,
) -> Quote:
    quote = draft_quote(
        acting_user=rep,
        company=ship_to.company,
        ship_to=ship_to,
        lines=[
            DraftLine(
                revision=revision,
                package=package or Package.objects.get(code="tote-265"),
                quantity=quantity,
                n_rate_lb_per_1000sqft=n_rate,
            )
        ],
        validity_days=30,
    )
    send_quote(quote=quote, acting_user=rep)
    return quote


def accepted_order(rep: User, company: Company, *, quantity: int = 4, **more: Any) -> Order:
    """An order of ``quantity`` totes of the half-slow blend, accepted by the signed link."""
    if not more:
        order: Order = _accepted(quantity)(rep, company)
        return order
    return newly_accepted_order(rep, company, quantity=quantity, **more)


@cache
def _accepted(quantity: int) -> RememberedRows:
    return RememberedRows(partial(newly_accepted_order, quantity=quantity))


def reviewed(revision: BlendRevision) -> BlendRevision:
    """A formulator has looked at it: what is ordered of it may be made."""
    if not is_reviewed(revision):
        RecipeReview.objects.create(revision=revision, who="Fran Form")
    return revision


def newly_accepted_order(rep: User, company: Company, *, quantity: int = 4, **more: Any) -> Order:
    """The same by the actions themselves, which also write the mails of this test's people."""
    revision = reviewed(more.pop("revision", None) or save_half_slow(rep, company))
    ship_to = more.pop("ship_to", None) or ShipToFactory(company=company)
    quote = sent_quote(rep, revision, ship_to, quantity=quantity, **more)
    return accept_quote(quote=quote, acting_user=None, name="Casey Owner")


def placed_order(rep: User, company: Company, *, quantity: int = 4, **more: Any) -> Order:
    """An order without a quote: what planning and making need, and no paper is drawn for it.

    Its recipe is reviewed, unless ``is_reviewed=False``.
    """
    revision = more.pop("revision", None) or save_half_slow(rep, company)
    if more.pop("is_reviewed", True):
        reviewed(revision)
    ship_to = more.pop("ship_to", None) or ShipToFactory(company=company)
    package = more.pop("package", None) or Package.objects.get(code="tote-265")
    asked = DraftLine(
        revision=revision,
        package=package,
        quantity=quantity,
        n_rate_lb_per_1000sqft=more.pop("n_rate", 0.7),
    )
    draft = price_draft([asked], company=company, ship_to=ship_to, today=timezone.localdate())
    figures = line_figures(revision, draft.requests[0], draft.price.lines[0])
    del figures["price_per_package"]
    line = OrderLine(
        position=1,
        revision=revision,
        package=package,
        quantity=quantity,
        n_rate_lb_per_1000sqft=asked.n_rate_lb_per_1000sqft,
        **figures,
    )
    return place_order(
        company=company,
        ship_to=ship_to,
        lines=[line],
        total=draft.price.total,
        deposit_total=draft.price.deposit_total,
        acting_user=rep,
        who=str(rep),
        why="Test order.",
    )
