"""Forms of quotes: the head, its lines, and the sheet that holds both together."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any, Final, cast

from django import forms
from django.core.validators import validate_email
from django.db.models import OuterRef, Q, QuerySet, Subquery
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from blendshop.accounts.models import Company, User
from blendshop.accounts.search import named
from blendshop.errors import DomainError
from blendshop.figures.readers import reader
from blendshop.form_fields import RowChoice, offer_rows, offered_rows
from blendshop.plant_steps import PlantStep, step_of
from blendshop.searched_rows import SEARCH, offer_searched
from formulas.models import Blend, BlendRevision
from orders.models import Package, PlantProfile, Quote, ShipTo
from orders.quoting.choices import Choice, choice_words
from orders.quoting.draft_prices import DraftLine, draft_lines_of
from orders.quoting.usual import usual_package, usual_ship_to
from orders.records.forms import DayField

MOST_LINES: Final = 20
MOST_ADDRESSES: Final = 10


class QuoteFilter(forms.Form):
    """Search and filter of the quote list; everything is optional."""

    q = forms.CharField(
        label=_("Search"), required=False, help_text=_("Number, customer or blend.")
    )
    status = forms.ChoiceField(
        label=_("Status"), required=False, choices=[("", _("all")), *Quote.Status.choices]
    )


class Totals(forms.CharField):
    """Totals with commas between them; a tuple of them."""

    widget = forms.HiddenInput

    def to_python(self, value: Any) -> tuple[Decimal, ...]:  # type: ignore[override]  # a list field
        one = forms.DecimalField(max_digits=12, decimal_places=2)
        return tuple(one.clean(total) for total in str(value or "").split(",") if total)


class SeenForm(forms.Form):
    """Send a draft at the total that was on the screen, or only price it anew."""

    do = forms.ChoiceField(choices=[("send", "send"), ("reprice", "reprice")])
    seen_total = forms.DecimalField(max_digits=12, decimal_places=2, required=False)
    seen_choices = Totals(required=False)


class ApprovalForm(forms.Form):
    """The office's word on a price below the floor."""

    decision = forms.ChoiceField(choices=[("approve", "approve"), ("send_back", "send back")])
    why = forms.CharField(label=_("Remark"), required=False, max_length=400)


class AnswerForm(forms.Form):
    """The customer's word on a quote."""

    decision = forms.ChoiceField(choices=[("accept", "accept"), ("decline", "decline")])
    name = forms.CharField(
        label=_("Your name"), max_length=120, widget=forms.TextInput(attrs={"autocomplete": "name"})
    )
    why = forms.CharField(
        label=_("Reason, if declined"), required=False, max_length=400, widget=forms.TextInput()
    )
    reference = forms.CharField(
        label=_("Your purchase order number, if you have one"), required=False, max_length=80
    )
    choice = forms.TypedChoiceField(
        label=_("Take one of these"),
        required=False,
        coerce=int,
        empty_value=None,
        widget=forms.RadioSelect(),
    )
    seen_due_on = forms.DateField(required=False, widget=forms.HiddenInput())
    #: Set by the page that asks once more before a customer accepts.
    agreed = forms.BooleanField(required=False, widget=forms.HiddenInput())

    def __init__(
        self, *args: Any, choices: Sequence[Choice] = (), recorded: bool = False, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        if recorded:
            self.fields["name"].label = _("Who answered")
            self.fields["reference"].label = _("Their purchase order number")
        if choices:
            cast("forms.TypedChoiceField", self.fields["choice"]).choices = [
                (choice.number, choice_words(choice, reader())) for choice in choices
            ]
        else:
            del self.fields["choice"]

    @property
    def asks_first(self) -> bool:
        """Whether a valid answer accepts and nobody has asked yet whether it is meant."""
        given = self.cleaned_data
        has_chosen = "choice" not in self.fields or given.get("choice") is not None
        return given["decision"] == "accept" and has_chosen and not given["agreed"]

    @property
    def accepted(self) -> dict[str, Any]:
        """Arguments of ``accept_quote`` from a valid form."""
        given = self.cleaned_data
        return {name: given.get(name) for name in ("name", "choice", "seen_due_on", "reference")}


class MailAddresses(forms.CharField):
    """Mail addresses with commas or blanks between them; a list of them."""

    widget = forms.TextInput(attrs={"autocomplete": "off", "inputmode": "email"})

    def prepare_value(self, value: Any) -> Any:
        return ", ".join(value) if isinstance(value, list) else value

    def to_python(self, value: Any) -> list[str]:  # type: ignore[override]  # as every list field
        asked = value if isinstance(value, list) else re.split(r"[,;\s]+", str(value or ""))
        return list(dict.fromkeys(address for address in asked if address))

    def validate(self, value: Any) -> None:
        super().validate(value)
        if len(value) > MOST_ADDRESSES:
            raise forms.ValidationError(
                _("At most %(most)s addresses."), params={"most": MOST_ADDRESSES}
            )

    def run_validators(self, value: Any) -> None:
        for address in value:
            try:
                validate_email(address)
            except forms.ValidationError as refused:
                raise forms.ValidationError(
                    _("“%(address)s” is no mail address."), params={"address": address}
                ) from refused


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


def revision_words(revision: BlendRevision) -> str:
    """By name and grade, as people know it; the rest tells apart what is called the same."""
    slow, figures = revision.slow_release_pct, reader()
    parts = [
        revision.blend.name,
        revision.grade,
        _("{pct} slow").format(pct=figures.percent(slow, 0)) if slow else "",
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

    def draft_line(self) -> DraftLine:
        """What the valid form asks for."""
        return DraftLine(
            revision=self.cleaned_data["revision"],
            package=self.cleaned_data["package"],
            quantity=self.cleaned_data["quantity"],
            n_rate_lb_per_1000sqft=self.cleaned_data["n_rate"],
            margin_pct=self.cleaned_data["margin_pct"],
            alternative=self.cleaned_data["alternative"],
        )


LINE_FIELDS: Final = tuple(LineForm.base_fields)
HEAD_FIELDS: Final = tuple(QuoteForm.base_fields)
LineFormSet = forms.formset_factory(
    LineForm, extra=0, min_num=1, max_num=MOST_LINES, validate_min=True, validate_max=True
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
        places = ShipTo.objects.filter(company=company_pk, active=True)
        offer_rows(self.form, "ship_to", places.select_related("company", "zone"))
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
            }
            for line in asked
        ]
        return cls(user, head=head, lines=lines)

    @classmethod
    def rearranged(cls, user: User, data: Mapping[str, Any], do: str) -> QuoteSheet:
        """What was typed so far, with a line more (``add``) or less (``remove-2``).

        After another customer is chosen (``refresh``) the address is theirs.
        """
        lines = _posted_lines(data)
        if do == "add" and len(lines) < MOST_LINES:
            lines.append({"quantity": "1"})
        removed = digits(do.removeprefix("remove-"))
        if removed is not None and removed < len(lines) and len(lines) > 1:
            del lines[removed]
        head = {name: data.get(name, "") for name in HEAD_FIELDS}
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
        return {**self.form.cleaned_data, "lines": self.draft_lines()}

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


def digits(value: Any) -> int | None:
    """The key that was sent, if it can be one."""
    text = str(value or "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 19 else None


def _posted_lines(data: Mapping[str, Any]) -> list[dict[str, Any]]:
    """What stands in the posted lines, unchecked and in order."""
    matches = (re.fullmatch(r"line-(\d{1,3})-quantity", key) for key in data)
    indexes = sorted(int(match[1]) for match in matches if match)
    return [
        {name: data.get(f"line-{index}-{name}", "") for name in LINE_FIELDS} for index in indexes
    ]


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
