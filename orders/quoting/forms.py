"""Forms of quotes: the head, its lines, and what is offered in them."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any, Final

from django import forms
from django.db.models import OuterRef, Q, QuerySet, Subquery
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from blendshop.accounts.models import Company, User
from blendshop.accounts.search import named
from blendshop.figures.readers import reader
from blendshop.form_fields import RowChoice, offer_rows
from blendshop.searched_rows import SEARCH, offer_searched
from formulas.answers.promised_grade import product_name
from formulas.models import Blend, BlendRevision
from orders.models import Package, Quote, QuoteLine, ShipTo
from orders.quoting.deals import QuoteDeal, deal_of, quote_deal
from orders.quoting.draft_prices import DraftLine
from orders.quoting.mail_addresses import MailAddresses
from orders.records.forms import DayField

MOST_LINES: Final = 20
_WHOLE_PCT: Final = 100


class QuoteFilter(forms.Form):
    """Search and filter of the quote list; everything is optional."""

    q = forms.CharField(
        label=_("Search"), required=False, help_text=_("Number, customer or blend.")
    )
    status = forms.ChoiceField(
        label=_("Status"), required=False, choices=[("", _("all")), *Quote.Status.choices]
    )


class QuoteForm(forms.Form):
    """The head of a quote."""

    company = forms.ModelChoiceField(
        Company.objects.none(), label=_("Customer"), empty_label=_("choose a customer")
    )
    ship_to = forms.ModelChoiceField(
        ShipTo.objects.none(), label=_("Ship to"), empty_label=_("choose an address")
    )
    validity_days = forms.IntegerField(label=_("Valid for, days"), min_value=1, max_value=365)
    wanted_on = DayField(
        label=_("Wanted on"),
        required=False,
        help_text=_("Becomes the due date where it is later than the earliest."),
    )
    agreed_freight = forms.DecimalField(
        label=_("Freight agreed"),
        required=False,
        min_value=0,
        max_digits=10,
        decimal_places=2,
        help_text=_("For the whole shipment, charged as it is; empty: by the zone's tariff."),
    )
    deal = forms.ChoiceField(
        label=_("Negotiated on all of it"),
        required=False,
        choices=[("", _("nothing")), *Quote.Deal.choices],
        help_text=_(
            "Without deposit. Where the customer chooses, of the cheapest choice; the others change"
            " by the same percentage."
        ),
    )
    deal_figure = forms.DecimalField(
        label=_("How much on all of it"),
        required=False,
        min_value=0,
        max_digits=12,
        decimal_places=2,
        help_text=_("In money, or percent."),
    )
    payment_terms = forms.CharField(
        label=_("Payment"),
        required=False,
        max_length=120,
        help_text=_("Empty: as agreed with the customer, or else the plant's usual terms."),
    )
    notes = forms.CharField(
        label=_("Notes"),
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("Printed on the quote."),
    )
    mailed_to = MailAddresses(
        label=_("Mail it also to"),
        required=False,
        help_text=_("Addresses beside the customer's own people; the link needs no login."),
    )

    @property
    def is_negotiated(self) -> bool:
        """Whether something is agreed over all lines, or was typed so and is wrong."""
        names = ("deal", "deal_figure", "agreed_freight")
        return any(self[name].value() not in ("", None) or self[name].errors for name in names)

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        _require_both(self, cleaned)
        deal = self.quote_deal
        if deal is not None and deal.pct is not None and deal.pct >= _WHOLE_PCT:
            self.add_error("deal_figure", _("Less than 100 percent."))
        return cleaned

    @property
    def quote_deal(self) -> QuoteDeal | None:
        """What a form that was looked at says of all lines together."""
        cleaned = self.cleaned_data
        return quote_deal(cleaned.get("deal", ""), cleaned.get("deal_figure"))


def _require_both(form: forms.Form, cleaned: Mapping[str, Any]) -> None:
    """A kind of deal and its figure stand together; either alone is refused at the other."""
    kind, figure = cleaned.get("deal"), cleaned.get("deal_figure")
    if kind and figure is None and "deal_figure" not in form.errors:
        form.add_error("deal_figure", _("Say how much."))
    if figure is not None and not kind and "deal" not in form.errors:
        form.add_error("deal", _("Say what the figure is."))


class CopyForm(forms.Form):
    """Whom a quote is copied for."""

    company = forms.ModelChoiceField(
        Company.objects.none(), label=_("Customer"), empty_label=_("choose a customer")
    )

    def __init__(self, user: User, data: Mapping[str, Any] | None = None) -> None:
        super().__init__(data)
        sent = data or {}
        offer_customers(self, user, sent, chosen=digits(sent.get("company")))


def offer_customers(
    form: forms.Form, user: User, sent: Mapping[str, Any], *, chosen: int | None
) -> None:
    """Active customers in the form's ``company``, searched where they are many."""
    offer_searched(
        form,
        "company",
        Company.objects.visible_to(user).filter(active=True),
        find=named,
        url=reverse("customer_options"),
        words=sent.get(f"company{SEARCH}", ""),
        chosen=chosen,
    )


def offered_ship_tos(company_pk: int | None) -> QuerySet[ShipTo]:
    """Where a quote for the company may go; nowhere without one."""
    places = ShipTo.objects.filter(company=company_pk, active=True)
    return places.select_related("company", "zone")


def revision_words(revision: BlendRevision) -> str:
    """By name and grade, as people know it; the rest tells apart what is called the same."""
    slow, figures = revision.slow_release_pct, reader()
    name = product_name(revision.blend.name, revision.grade)
    said_slow = _("{pct} slow").format(pct=figures.percent(slow, 0)) if slow else ""
    parts = [
        name,
        "" if said_slow in name else said_slow,
        "" if revision.blend.company_id else _("plant's own book"),
        f"r{revision.number}",
        figures.date(timezone.localdate(revision.created_at)),
    ]
    return " · ".join(str(part) for part in parts if part)


def of_blends_named(revisions: QuerySet[BlendRevision], words: str) -> QuerySet[BlendRevision]:
    """Those with the words in the blend's name or in the grade; all without words."""
    text = words.strip()
    if not text:
        return revisions
    return revisions.filter(Q(blend__name__icontains=text) | Q(grade__icontains=text))


class RevisionField(RowChoice):
    """A saved blend by the name and grade people know it by."""

    def label_from_instance(self, revision: BlendRevision) -> str:
        return revision_words(revision)


class LineForm(forms.Form):
    """One blend in a package and quantity."""

    revision = RevisionField(
        BlendRevision.objects.none(), label=_("Blend"), empty_label=_("choose a saved blend")
    )
    package = forms.ModelChoiceField(
        Package.objects.none(), label=_("Package"), empty_label=_("choose a package")
    )
    quantity = forms.IntegerField(
        label=_("Quantity"),
        min_value=1,
        max_value=100_000,
        help_text=_("Packages; in bulk, gallons."),
    )
    n_rate = forms.FloatField(
        label=_("N rate, lb per 1,000 sq ft"),
        required=False,
        min_value=0.01,
        max_value=10,
        help_text=_("For the price per 1,000 sq ft."),
    )
    margin_pct = forms.DecimalField(
        label=_("Price margin, %"),
        required=False,
        min_value=-99,
        max_value=99,
        max_digits=5,
        decimal_places=2,
        help_text=_("Only if it differs from the customer's tier."),
    )
    deal = forms.ChoiceField(
        label=_("Negotiated"),
        required=False,
        choices=[("", _("nothing")), *QuoteLine.Deal.choices],
        help_text=_("Prices with freight and without deposit."),
    )
    deal_figure = forms.DecimalField(
        label=_("How much"),
        required=False,
        min_value=0,
        max_digits=12,
        decimal_places=4,
        help_text=_("In money, or percent."),
    )
    alternative = forms.BooleanField(
        label=_("One to choose from"),
        required=False,
        help_text=_("The customer takes one of the two or three lines marked so."),
    )

    def __init__(
        self,
        *args: Any,
        revisions: QuerySet[BlendRevision],
        packages: QuerySet[Package],
        searched: Mapping[str, Any],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        name = self.add_prefix("revision")
        offer_searched(
            self,
            "revision",
            revisions,
            find=of_blends_named,
            url=reverse("quote_blend_options"),
            words=searched.get(f"{name}{SEARCH}", ""),
            chosen=self.data.get(name) if self.is_bound else self.initial.get("revision"),
            include="#quote-fields [name=company]",
        )
        offer_rows(self, "package", packages)

    @property
    def is_negotiated(self) -> bool:
        """Whether anything differs from the tier, or was typed so and is wrong."""
        names = ("margin_pct", "deal", "deal_figure")
        return any(self[name].value() not in ("", None) or self[name].errors for name in names)

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        _require_both(self, cleaned)
        deal = deal_of(cleaned.get("deal") or "", cleaned.get("deal_figure"))
        package = cleaned.get("package")
        if deal is None:
            return cleaned
        if deal.is_price and cleaned.get("margin_pct") is not None:
            self.add_error("margin_pct", _("Give a margin or a price, not both."))
        if deal.kind == QuoteLine.Deal.OFF_PCT and deal.figure >= _WHOLE_PCT:
            self.add_error("deal_figure", _("Less than 100 percent."))
        if deal.kind == QuoteLine.Deal.OFF_PER_PACKAGE and package and package.is_bulk:
            self.add_error("deal", _("Bulk goes by the gallon."))
        return cleaned

    def draft_line(self) -> DraftLine:
        """What the valid form asks for."""
        return DraftLine(
            revision=self.cleaned_data["revision"],
            package=self.cleaned_data["package"],
            quantity=self.cleaned_data["quantity"],
            n_rate_lb_per_1000sqft=self.cleaned_data["n_rate"],
            margin_pct=self.cleaned_data["margin_pct"],
            alternative=self.cleaned_data["alternative"],
            deal=deal_of(self.cleaned_data["deal"], self.cleaned_data["deal_figure"]),
        )


LINE_FIELDS: Final = tuple(LineForm.base_fields)
HEAD_FIELDS: Final = tuple(QuoteForm.base_fields)
LineFormSet = forms.formset_factory(
    LineForm, extra=0, min_num=1, max_num=MOST_LINES, validate_min=True, validate_max=True
)


def digits(value: Any) -> int | None:
    """The key that was sent, if it can be one."""
    text = str(value or "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 19 else None


def offered_revisions(
    user: User, company_pk: int | None, on_sheet: Collection[int] = ()
) -> QuerySet[BlendRevision]:
    """The newest revision of the customer's blends and of the plant's book."""
    of_blend = BlendRevision.objects.filter(blend=OuterRef("pk"), for_order_only=False)
    newest = of_blend.order_by("-number").values("pk")
    # Of these blends the newest; asked of every revision it would be looked for in all of them.
    blends = Blend.objects.filter(
        Q(company=company_pk) | Q(company__isnull=True), archived=False
    ).order_by()
    offered = blends.annotate(newest=Subquery(newest[:1])).values("newest")
    revisions: QuerySet[BlendRevision] = (
        BlendRevision.objects.filter(Q(pk__in=offered) | Q(pk__in=on_sheet))
        .filter(blend__in=Blend.objects.visible_to(user))
        .select_related("blend")
        .defer("wish", "answer")
        .order_by("blend__name", "-number")
    )
    return revisions
