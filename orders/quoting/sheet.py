"""The sheet a quote is written on: its head and its lines together."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any, Final

from django.db.models import Q
from django.urls import reverse

from blendshop.accounts.models import User
from blendshop.errors import DomainError
from blendshop.form_fields import offered_rows
from blendshop.money import money
from blendshop.plant_steps import PlantStep, step_of
from blendshop.searched_rows import SEARCH, offer_searched
from formulas.models import BlendRevision
from orders.models import Package, PlantProfile, Quote, QuoteLine, ShipTo
from orders.quoting.draft_prices import DraftLine, draft_lines_of
from orders.quoting.forms import (
    HEAD_FIELDS,
    LINE_FIELDS,
    MOST_LINES,
    LineFormSet,
    QuoteForm,
    digits,
    offer_customers,
    offered_revisions,
    offered_ship_tos,
)
from orders.quoting.large_quantities import Asked, asked_about
from orders.quoting.usual import usual_package, usual_ship_to
from orders.records.ship_tos import ship_tos_at

_AS_DISCOUNT: Final = re.compile(
    r"as-discount-(?:(?P<line>\d{1,2})-)?(?P<amount>\d{1,8}\.\d\d)", re.ASCII
)


class QuoteSheet:
    """The head and the lines of one quote page, bound to what was posted or to a start.

    Addresses and blends offered follow the chosen customer; revisions already on the sheet stay
    on offer although a newer one exists. ``taken_in`` names a customer that is new by this press.
    """

    def __init__(
        self,
        user: User,
        *,
        data: Mapping[str, Any] | None = None,
        head: Mapping[str, Any] | None = None,
        lines: Iterable[Mapping[str, Any]] = (),
        searched: Mapping[str, Any] | None = None,
    ) -> None:
        head, lines = dict(head or {}), list(lines)
        company_pk = digits(data.get("company") if data is not None else head.get("company"))
        posted = _posted_lines(data) if data is not None else lines
        on_sheet = {pk for line in posted if (pk := digits(line.get("revision")))}
        packages = {pk for line in posted if (pk := digits(line.get("package")))}
        self.form = QuoteForm(data, initial=head)
        sent = data if data is not None else searched or {}
        offer_customers(self.form, user, sent, chosen=company_pk)
        offer_searched(
            self.form,
            "ship_to",
            offered_ship_tos(company_pk),
            find=ship_tos_at,
            url=reverse("quote_ship_to_options"),
            words=sent.get(f"ship_to{SEARCH}", ""),
            chosen=digits(data.get("ship_to") if data is not None else head.get("ship_to")),
            include="#quote-fields [name=company], #quote-fields [name=ship_to]",
        )
        self.lines = LineFormSet(
            data,
            initial=lines,
            prefix="line",
            form_kwargs={
                "revisions": offered_revisions(user, company_pk, on_sheet),
                "packages": Package.objects.filter(Q(active=True) | Q(pk__in=packages)),
                "searched": sent,
            },
        )
        self.problem = ""
        self.missing: PlantStep | None = None
        self.taken_in = ""
        self.question: Asked | None = None

    @classmethod
    def blank(
        cls, user: User, revision: BlendRevision | None, asked: Mapping[str, str]
    ) -> QuoteSheet:
        """A new quote, for the owner of a saved blend if one is given.

        ``asked`` may name ``company``, ``ship_to`` (ids), ``package`` (code), ``quantity`` and
        ``n_rate``, as the blend page knows them; the rest begins as the last quote did.
        """
        owner = revision.blend.company_id if revision else None
        company = owner or digits(asked.get("company"))
        places = ShipTo.objects.filter(company=company, active=True) if company else None
        place = places.filter(pk=digits(asked.get("ship_to")) or 0).first() if places else None
        package = Package.objects.filter(active=True, code=asked.get("package", "")).first()
        head = {
            "company": company or "",
            "ship_to": (place or usual_ship_to(company) or ShipTo()).pk or "",
            "validity_days": PlantProfile.load().quote_validity_days,
        }
        line = {
            "revision": revision.pk if revision else "",
            "package": (package or usual_package(company) or Package()).pk or "",
            "quantity": digits(asked.get("quantity")) or 1,
            "n_rate": asked.get("n_rate", ""),
        }
        return cls(user, head=head, lines=[line])

    @classmethod
    def of_quote(cls, user: User, quote: Quote) -> QuoteSheet:
        """A draft as it is saved."""
        head = {
            "company": quote.company_id,
            "ship_to": quote.ship_to_id,
            "validity_days": quote.validity_days,
            "notes": quote.notes,
            "mailed_to": quote.mailed_to,
            "wanted_on": quote.wanted_on,
            "payment_terms": quote.payment_terms,
            "agreed_freight": quote.agreed_freight,
            "deal": quote.deal,
            "deal_figure": None if quote.deal_figure is None else _plain(quote.deal_figure),
        }
        asked = draft_lines_of(list(quote.lines.select_related("revision", "package")))
        lines = [
            {
                "revision": line.revision.pk,
                "package": line.package.pk,
                "quantity": line.quantity,
                "n_rate": line.n_rate_lb_per_1000sqft,
                "margin_pct": line.margin_pct,
                "alternative": line.alternative,
                "deal": line.deal.kind if line.deal else "",
                "deal_figure": _plain(line.deal.figure) if line.deal else None,
            }
            for line in asked
        ]
        return cls(user, head=head, lines=lines)

    @classmethod
    def rearranged(cls, user: User, data: Mapping[str, Any], do: str) -> QuoteSheet:
        """What was typed so far, with a line more (``add``) or less (``remove-2``).

        ``as-discount-2-84.00`` gives what leads to the asked price of a line as a discount,
        ``as-discount-84.00`` what leads to that of the whole quote. After another customer is
        chosen (``refresh``) the address is theirs.
        """
        lines = _posted_lines(data)
        if do == "add" and len(lines) < MOST_LINES:
            lines.append({"quantity": "1"})
        removed = digits(do.removeprefix("remove-"))
        if removed is not None and removed < len(lines) and len(lines) > 1:
            del lines[removed]
        head = {name: data.get(name, "") for name in HEAD_FIELDS}
        if given := _AS_DISCOUNT.fullmatch(do):
            if given["line"] is None:
                head |= {"deal": Quote.Deal.OFF_AMOUNT.value, "deal_figure": given["amount"]}
            else:
                _give(lines, int(given["line"]), given["amount"])
        company, place = digits(head["company"]), digits(head["ship_to"]) or 0
        if not ShipTo.objects.filter(company=company, active=True, pk=place).exists():
            head["ship_to"] = (usual_ship_to(company) or ShipTo()).pk or ""
        return cls(user, head=head, lines=lines, searched=data)

    def is_valid(self) -> bool:
        """Both at once, so that every mistake is shown."""
        return all([self.form.is_valid(), self.lines.is_valid()])

    def has_all_of_a_price(self) -> bool:
        """Whether customer, address and lines are right, whatever the rest is."""
        self.is_valid()
        return self.lines.is_valid() and not self.form.errors.keys() & {"company", "ship_to"}

    def request(self) -> dict[str, Any]:
        """Arguments of ``draft_quote`` and ``change_draft`` from a valid sheet."""
        head = {
            name: value for name, value in self.form.cleaned_data.items() if name != "deal_figure"
        }
        return {**head, "deal": self.form.quote_deal, "lines": self.draft_lines()}

    def asked(self, meant: str, saved: Quote | None) -> Asked | None:
        """What is to be asked of a valid sheet's quantities; what is ``saved`` was said yes to."""
        known = () if saved is None else saved.lines.values_list("package", "quantity")
        answered = [meant, *(f"{package}:{quantity}" for package, quantity in known)]
        return asked_about(
            [(line.package, line.quantity) for line in self.draft_lines()], ",".join(answered)
        )

    def draft_lines(self) -> tuple[DraftLine, ...]:
        return tuple(form.draft_line() for form in self.lines if form.cleaned_data)

    @property
    def needs(self) -> tuple[PlantStep, ...]:
        """What the plant has to have before there is anything to choose on the sheet."""
        line = self.lines.empty_form  # a sheet that came back damaged may have none
        offered = {
            PlantStep.CUSTOMER: offered_rows(self.form, "company"),
            PlantStep.PACKAGES: offered_rows(line, "package"),
            PlantStep.QUOTE: offered_rows(line, "revision"),
        }
        return tuple(step for step, rows in offered.items() if not rows.exists())

    def refuse(self, error: DomainError) -> None:
        """Show a sentence of the action above the form."""
        self.problem, self.missing = error.message, step_of(error)


def _plain(figure: Decimal) -> Decimal:
    """At least two places, as money is typed, and no zeros behind them."""
    short = money(figure)
    return short if short == figure else figure.normalize()


def _give(lines: list[dict[str, Any]], number: int, amount: str) -> None:
    if number < len(lines):
        given = {"deal": QuoteLine.Deal.OFF_LINE.value, "deal_figure": amount, "margin_pct": ""}
        lines[number].update(given)


def _posted_lines(data: Mapping[str, Any]) -> list[dict[str, Any]]:
    """What stands in the posted lines, unchecked and in order."""
    matches = (re.fullmatch(r"line-(\d{1,3})-quantity", key) for key in data)
    indexes = sorted(int(match[1]) for match in matches if match)
    return [
        {name: data.get(f"line-{index}-{name}", "") for name in LINE_FIELDS} for index in indexes
    ]
