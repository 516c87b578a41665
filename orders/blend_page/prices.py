"""What the blend costs its buyer, in the package and to the place chosen on the page."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cached_property

from django.utils.translation import gettext

from blendshop.errors import BadInput
from blendshop.figures.readers import reader
from blendshop.money import money
from blendshop.plant_steps import NotSetUp, PlantStep, step_of
from orders.blend_page.page_options import PageOptions
from orders.blend_page.price_fields import GALLON
from orders.blend_page.wish_form import WishForm
from orders.frozen.quoted_load import QuotedLoad
from orders.models import Package
from orders.planning.backlog import WantedBlend
from orders.planning.due_dates import FROM_STOCK, DueDate, read_due_dates
from orders.pricing import CustomerLine, PriceBreak, PriceBreakdown, QuoteTerms, customer_lines
from orders.quoting.load_words import load_words, weighed_words
from orders.quoting.price import price_each, price_with_breaks
from orders.quoting.price_ceiling import AgainstPrice, against_price
from orders.quoting.requests import PricedRequest, WishedBlend, request_for, room_ratio
from orders.quoting.state_fees import fee_caution
from orders.quoting.terms import terms_for


@dataclass(frozen=True, slots=True)
class Price:
    """A price, or in ``problem`` the sentence why there is none; ``caution`` is for staff.

    ``missing`` is the step of the plant that it waits for, if it does.

    ``load`` is what it was figured from, ``promised_pct`` the minima that load keeps,
    ``due`` by when it can be made, ordered today.
    """

    package: Package | None
    breakdown: PriceBreakdown | None = None
    lines: tuple[CustomerLine, ...] = ()
    breaks: tuple[PriceBreak, ...] = ()
    problem: str = ""
    missing: PlantStep | None = None
    caution: str = ""
    load: QuotedLoad | None = None
    promised_pct: Mapping[str, float] = field(default_factory=dict)
    due: DueDate | None = None

    @property
    def load_words(self) -> str:
        """For staff: the load it is priced for; empty without a price."""
        return "" if self.load is None else load_words(self.load, reader())

    @property
    def weighed_words(self) -> str:
        """For customers: how it is weighed; empty without a price."""
        return "" if self.load is None else weighed_words(self.load, reader())

    @property
    def from_stock(self) -> str:
        """What the due date does not count."""
        return str(FROM_STOCK)

    @property
    def per_gal(self) -> Decimal | None:
        """To the cent, for reading; the exact figure stands in the breakdown."""
        return None if self.breakdown is None else money(self.breakdown.price_per_gal)

    def per(self, unit: str | None) -> Decimal | None:
        """To the cent, for a gallon (``gal``) or for the package it is priced in."""
        return self.per_gal if unit == GALLON else self.per_package

    @property
    def per_1000sqft(self) -> Decimal | None:
        """To the cent, at the N rate of the spray sheet; None without nitrogen or rate."""
        price = None if self.breakdown is None else self.breakdown.price_per_1000sqft
        return None if price is None else money(price)

    @property
    def per_package(self) -> Decimal | None:
        """To the cent; None in bulk."""
        price = None if self.breakdown is None else self.breakdown.price_per_package
        return None if price is None else money(price)


def _without(package: Package | None, why: BadInput) -> Price:
    return Price(package, problem=why.message, missing=step_of(why))


class Pricer:
    """Prices blends on the terms chosen in a valid form."""

    def __init__(self, form: WishForm) -> None:
        cleaned = form.cleaned_data
        self.options: PageOptions = form.options
        self.package = self.options.package(cleaned["package"])
        self.quantity: int = cleaned["quantity"]
        self.n_rate: float | None = cleaned.get("n_rate")
        self.company = self.options.company(cleaned["company"])
        self.ship_to = self.options.ship_to(cleaned["ship_to"])

    def against(
        self, blend: WishedBlend, keeps: Callable[[PriceBreakdown], bool]
    ) -> AgainstPrice | None:
        """The blend alone against a price asked for; None where it cannot be priced."""
        try:
            return against_price(self._request(blend), self._terms, keeps)
        except BadInput:
            return None

    @cached_property
    def _terms(self) -> QuoteTerms:
        return terms_for(company=self.company, ship_to=self.ship_to, today=self.options.today)

    def price(self, blend: WishedBlend) -> Price:
        """The blend alone with its quantity table; why there is no price is said, not raised."""
        try:
            request = self._request(blend)
            ((breakdown,), (breaks,)) = self._with_breaks(request)
        except BadInput as bad:
            return _without(self.package, bad)
        return Price(
            self.package,
            breakdown,
            customer_lines(breakdown),
            breaks,
            caution=fee_caution(self.ship_to) if self.options.is_staff else "",
            load=request.load,
            promised_pct=request.loads.minima_pct,
            due=self._due(request),
        )

    def price_each(self, blends: Sequence[WishedBlend]) -> tuple[Price, ...]:
        """Each blend alone, without quantity tables; the price tables are read once for all."""
        return self._each(blends, None)

    def price_like(self, own: WishedBlend, blends: Sequence[WishedBlend]) -> tuple[Price, ...]:
        """``price_each`` without a plan of each: the room costs as much of them as of ``own``."""
        try:
            ratio = room_ratio(self._request(own))
        except BadInput as bad:
            return tuple(_without(self.package, bad) for _ in blends)
        return self._each(blends, ratio)

    def _due(self, request: PricedRequest) -> DueDate:
        recipe = {share.code: share.pct for share in request.recipe}
        wanted = WantedBlend(request.package, request.quantity, recipe)
        return read_due_dates(self.options.today).of([wanted])

    def _each(self, blends: Sequence[WishedBlend], ratio: Decimal | None) -> tuple[Price, ...]:
        requests: list[PricedRequest | BadInput] = [self._tried(blend) for blend in blends]
        try:
            found = price_each(
                [request for request in requests if not isinstance(request, BadInput)],
                company=self.company,
                ship_to=self.ship_to,
                today=self.options.today,
                ratio=ratio,
            )
            return tuple(
                _without(self.package, request)
                if isinstance(request, BadInput)
                else self._said(next(found))
                for request in requests
            )
        except BadInput as bad:
            return tuple(_without(self.package, bad) for _ in blends)

    def _with_breaks(
        self, request: PricedRequest
    ) -> tuple[tuple[PriceBreakdown, ...], tuple[tuple[PriceBreak, ...], ...]]:
        price, breaks = price_with_breaks(
            [request],
            company=self.company,
            ship_to=self.ship_to,
            today=self.options.today,
        )
        return price.lines, breaks

    def _tried(self, blend: WishedBlend) -> PricedRequest | BadInput:
        try:
            return self._request(blend)
        except BadInput as bad:
            return bad

    def _said(self, found: PriceBreakdown | BadInput) -> Price:
        if isinstance(found, BadInput):
            return _without(self.package, found)
        return Price(self.package, found, customer_lines(found))

    def _request(self, blend: WishedBlend) -> PricedRequest:
        if self.package is None:
            raise NotSetUp(
                gettext("No package is set up: the office adds one under First steps, Packages."),
                PlantStep.PACKAGES,
            )
        return request_for(
            blend,
            catalogue=self.options.catalogue,
            tanks=self.options.tanks,
            package=self.package,
            quantity=self.quantity,
            n_rate=self.n_rate,
        )
