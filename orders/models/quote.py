"""Quotes: a price in writing that holds until a day. Sent lines never change."""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any, ClassVar, NoReturn, cast

from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from blendshop.accounts.models import Company, User
from blendshop.immutable import WrittenOnce
from blendshop.roles import Role, has_role
from blendshop.snapshot import StoredIn
from formulas.models import BlendRevision
from orders.frozen.line_price import LinePrice
from orders.frozen.spraying import Spraying
from orders.models.events import Event
from orders.models.people import CustomerTerms, PlantProfile, ShipTo
from orders.models.policy import Package


class QuoteQuerySet(models.QuerySet["Quote"]):
    def visible_to(self, user: User) -> "QuoteQuerySet":
        """Plant never sees prices; a customer sees its company's quotes once they are sent."""
        if has_role(user, Role.REP, Role.OFFICE, Role.FORMULATOR):
            return self
        if not (has_role(user, Role.CUSTOMER) and user.company_id):
            return self.none()
        return self.published().filter(company=user.company_id)

    def published(self) -> "QuoteQuerySet":
        """Quotes that once went out; what was withdrawn before that stays in the house."""
        in_house = Q(status__in=[Quote.Status.DRAFT, Quote.Status.AWAITING_APPROVAL])
        return self.exclude(in_house | Q(status=Quote.Status.VOID, sent_at__isnull=True))

    def with_standing_price(self, today: date) -> "QuoteQuerySet":
        """Quotes whose price is not asked again: out and still valid, or waiting for approval."""
        out = Q(status=Quote.Status.SENT, valid_until__gte=today)
        return self.filter(out | Q(status=Quote.Status.AWAITING_APPROVAL))

    def open_on(self, today: date) -> "QuoteQuerySet":
        """Quotes somebody may still order by: with a standing price, and drafts."""
        return self.with_standing_price(today) | self.filter(status=Quote.Status.DRAFT)

    def for_list(self) -> "QuoteQuerySet":
        """With customer, author and the names of what is quoted; without prices and answers."""
        lines = QuoteLine.objects.select_related("revision__blend").defer(
            "price", "revision__wish", "revision__answer"
        )
        return self.select_related("company", "created_by").prefetch_related(
            models.Prefetch("lines", lines)
        )

    def delete(self) -> NoReturn:
        raise WrittenOnce("Quotes are never deleted; withdraw them.")


class Quote(models.Model):
    """One or more priced lines for one customer and one ship-to."""

    class Status(models.TextChoices):
        DRAFT = "draft", _("draft")
        AWAITING_APPROVAL = "awaiting_approval", _("awaiting approval")
        SENT = "sent", _("sent")
        ACCEPTED = "accepted", _("accepted")
        DECLINED = "declined", _("declined")
        EXPIRED = "expired", _("expired")
        VOID = "void", _("withdrawn")

    #: Which state may follow which; each move has one action in orders/quoting/actions/.
    MOVES: ClassVar[Mapping[str, set[str]]] = {
        Status.DRAFT: {Status.AWAITING_APPROVAL, Status.SENT, Status.VOID},
        Status.AWAITING_APPROVAL: {Status.DRAFT, Status.SENT, Status.VOID},
        Status.SENT: {Status.ACCEPTED, Status.DECLINED, Status.EXPIRED, Status.VOID},
        Status.ACCEPTED: set(),
        Status.DECLINED: set(),
        Status.EXPIRED: set(),
        Status.VOID: set(),
    }

    class Deal(models.TextChoices):
        """What a rep negotiates over all lines together."""

        OFF_PCT = "off_pct", _("discount on all of it, %")
        OFF_AMOUNT = "off_amount", _("discount on all of it")
        PRICE = "price", _("price of all of it, delivered")

    #: States in which a version takes the place of the one before.
    STANDING: ClassVar = (Status.DRAFT, Status.AWAITING_APPROVAL, Status.SENT, Status.ACCEPTED)

    number = models.CharField(max_length=20, unique=True)
    company = models.ForeignKey(Company, on_delete=models.PROTECT, related_name="quotes")
    ship_to = models.ForeignKey(ShipTo, on_delete=models.PROTECT, related_name="+")
    status = models.CharField(max_length=20, choices=Status, default=Status.DRAFT)
    validity_days = models.PositiveSmallIntegerField(default=30)
    valid_until = models.DateField(help_text="Counted again from the day it is sent.")
    due_on = models.DateField(
        null=True,
        blank=True,
        help_text="The earliest date that could be promised when it was sent; none before that.",
    )
    wanted_on = models.DateField(
        null=True, blank=True, help_text="The day the customer asked for; it may not be kept."
    )
    notes = models.TextField(blank=True, help_text="Printed on the quote.")
    payment_terms = models.CharField(
        max_length=120, blank=True, help_text="Empty: the customer's, or else the plant's."
    )
    agreed_freight = models.DecimalField(
        max_digits=10,
        decimal_places=2,
        null=True,
        blank=True,
        help_text="For the whole shipment; empty: by the zone's tariff.",
    )
    deal = models.CharField(max_length=20, blank=True, choices=Deal)
    deal_figure = models.DecimalField(
        max_digits=12,
        decimal_places=4,
        null=True,
        blank=True,
        help_text="Dollars or percent, as the deal says; of all lines, without deposit. Where the "
        "customer chooses, of the cheapest choice, and the same percentage of each other one.",
    )
    once_key = models.CharField(
        max_length=64,
        null=True,
        blank=True,
        unique=True,
        editable=False,
        help_text="A form sent twice carries the same key and makes one draft.",
    )
    #: Who is mailed the quote beside the customer's people; the link needs no login.
    mailed_to: Any = models.JSONField(default=list, blank=True)
    #: The quote this one is a new version of.
    replaces = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by"
    )
    created_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    decided_at = models.DateTimeField(null=True, blank=True)
    decided_by_name = models.CharField(max_length=120, blank=True)
    decision_note = models.CharField(max_length=400, blank=True)
    total = models.DecimalField(
        max_digits=12, decimal_places=2, default=0, help_text="With the refundable deposits."
    )
    deposit_total = models.DecimalField(max_digits=12, decimal_places=2, default=0)
    choices = models.PositiveSmallIntegerField(
        default=0,
        help_text="Of how many the customer takes one; 0 where all lines are taken. Until then "
        "the totals are those of the cheapest.",
    )
    chosen = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="Which one was taken, with its totals."
    )
    priced_on = models.DateField(
        null=True, blank=True, editable=False, help_text="The day of the costs its price is of."
    )
    needs_approval = models.BooleanField(default=False)
    approval_reason = models.CharField(max_length=400, blank=True)

    objects = QuoteQuerySet.as_manager()

    class Meta:
        ordering = ("-created_at", "-pk")
        indexes: ClassVar = [
            models.Index(fields=["-created_at", "-id"], name="quote_newest_first"),
            models.Index(fields=["status", "-created_at", "-id"], name="quote_by_status"),
        ]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(
                    status__in=[
                        "draft",
                        "awaiting_approval",
                        "sent",
                        "accepted",
                        "declined",
                        "expired",
                        "void",
                    ]
                ),
                name="quote_status_is_known",
                violation_error_message="This is not a state of a quote.",
            ),
            models.UniqueConstraint(
                fields=["replaces"],
                condition=Q(status__in=["draft", "awaiting_approval", "sent", "accepted"]),
                name="quote_replaced_by_one",
                violation_error_message="The quote has a new version already.",
            ),
            models.CheckConstraint(
                condition=Q(agreed_freight__isnull=True) | Q(agreed_freight__gte=0),
                name="quote_freight_is_not_negative",
                violation_error_message="Freight is not below 0.",
            ),
            models.CheckConstraint(
                condition=Q(deal="", deal_figure__isnull=True) | Q(deal__gt="", deal_figure__gte=0),
                name="quote_deal_has_its_figure",
                violation_error_message="What was negotiated needs its figure.",
            ),
            models.CheckConstraint(
                condition=Q(chosen__isnull=True) | Q(chosen__gte=1, chosen__lte=F("choices")),
                name="quote_chosen_is_one_of_its_choices",
                violation_error_message="The quote offers no such choice.",
            ),
        ]

    def __str__(self) -> str:
        return self.number

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise WrittenOnce("A quote is never deleted; withdraw it.")

    @property
    def is_draft(self) -> bool:
        return self.status == self.Status.DRAFT

    @property
    def at_costs_of(self) -> date | None:
        """The day whose costs its price is of; None of a draft at costs that were not in force."""
        if self.is_draft:
            return self.priced_on
        return self.priced_on or timezone.localdate(self.sent_at or self.created_at)

    @property
    def agreed_payment_terms(self) -> str:
        """The quote's own, or else the customer's, or else the plant's; empty where none are."""
        terms = CustomerTerms.objects.filter(company=self.company_id).first()
        return (
            self.payment_terms
            or (terms.payment_terms if terms else "")
            or PlantProfile.load().payment_terms
        )

    @property
    def is_choice_open(self) -> bool:
        """Whether the customer still has to say which of its choices is taken."""
        return self.choices > 0 and self.chosen is None

    def taken_lines(self) -> models.QuerySet["QuoteLine"]:
        """The lines an order takes: all, or those of the choice that was made."""
        return self.lines.filter(choice=self.chosen)

    @property
    def blend_names(self) -> list[str]:
        """What is quoted, or was taken, each name once; from fetched lines where there are."""
        lines = (line for line in self.lines.all() if self.chosen in (None, line.choice))
        return list(dict.fromkeys(line.revision.blend.name for line in lines))

    @property
    def next_version(self) -> "Quote | None":
        """What is drafted or was sent in its place and stands."""
        return self.replaced_by.filter(status__in=self.STANDING).first()

    @property
    def newest_version(self) -> "Quote":
        """The last one that went out of those that replaced this, one after the other; or this."""
        newest, later = self, Quote.objects.published()
        while newer := later.filter(replaces=newest).order_by("-pk").first():
            newest = newer
        return newest


class QuoteLineQuerySet(models.QuerySet["QuoteLine"]):
    """Refuses to touch the lines of a quote that is no longer a draft, however it is asked."""

    def update(self, **kwargs: Any) -> int:
        self._require_drafts()
        return super().update(**kwargs)

    def delete(self) -> tuple[int, dict[str, int]]:
        self._require_drafts()
        return super().delete()

    delete.queryset_only = True  # type: ignore[attr-defined]  # never on the bare manager

    def bulk_update(self, objs: Any, *args: Any, **kwargs: Any) -> int:
        objs = list(objs)
        self.filter(pk__in=[line.pk for line in objs])._require_drafts()
        return super().bulk_update(objs, *args, **kwargs)

    def bulk_create(self, objs: Any, *args: Any, **kwargs: Any) -> list["QuoteLine"]:
        objs = list(objs)
        _require_draft_quotes({line.quote_id for line in objs})
        return super().bulk_create(objs, *args, **kwargs)

    def _require_drafts(self) -> None:
        _require_draft_quotes(set(self.values_list("quote_id", flat=True)))


def _require_draft_quotes(quote_ids: set[int]) -> None:
    frozen = Quote.objects.filter(pk__in=quote_ids).exclude(status=Quote.Status.DRAFT).first()
    if frozen is not None:
        raise WrittenOnce(f"{frozen.number} is no longer a draft: its lines never change.")


class QuoteLine(models.Model):
    """A blend revision in a package and quantity, at a price frozen when the quote is sent.

    ``price_breakdown`` holds the price steps (staff only) and the recipe, analysis and density
    they were worked out from, ``price`` its JSON; the printed figures stand in columns.
    ``line_total`` is without the deposit. Only a draft's lines can be written.

    Where the customer chooses, each line belongs to one ``choice``. What is taken whatever is
    chosen stands in every one of them, at the price it has beside its other lines.

    ``spraying`` is how its customer sprayed when it was quoted.
    """

    class Deal(models.TextChoices):
        """What a rep negotiates on a line. By the gallon first: so liquids are talked about."""

        OFF_PER_GAL = "off_per_gal", _("discount per gal")
        OFF_PER_PACKAGE = "off_per_package", _("discount per package")
        OFF_PCT = "off_pct", _("discount, %")
        OFF_LINE = "off_line", _("discount on the line")
        PRICE_PER_GAL = "price_per_gal", _("price per gal, delivered")
        PRICE_LINE = "price_line", _("price of the line, delivered")

    quote = models.ForeignKey(Quote, on_delete=models.CASCADE, related_name="lines")
    position = models.PositiveSmallIntegerField()
    choice = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="Counted from 1; none where all lines are taken."
    )
    in_every_choice = models.BooleanField(default=False)
    revision = models.ForeignKey(BlendRevision, on_delete=models.PROTECT, related_name="+")
    package = models.ForeignKey(Package, on_delete=models.PROTECT, related_name="+")
    quantity = models.PositiveIntegerField(help_text="Packages; for bulk whole gallons.")
    n_rate_lb_per_1000sqft = models.FloatField(null=True, blank=True)
    margin_pct = models.DecimalField(
        max_digits=5,
        decimal_places=2,
        null=True,
        blank=True,
        help_text="Only when it differs from the customer's policy.",
    )
    deal = models.CharField(max_length=20, blank=True, choices=Deal)
    deal_figure = models.DecimalField(
        max_digits=12,
        decimal_places=4,
        null=True,
        blank=True,
        help_text="Dollars or percent, as the deal says; the price without deposit.",
    )
    sprayed: "models.JSONField[Mapping[str, Any], object]" = models.JSONField(default=dict)
    volume_gal = models.FloatField(default=0)
    mass_lb = models.FloatField(default=0)
    price: "models.JSONField[Mapping[str, Any], object]" = models.JSONField(default=dict)
    price_per_gal = models.DecimalField(max_digits=12, decimal_places=4, default=0)
    price_per_package = models.DecimalField(
        max_digits=12, decimal_places=4, null=True, blank=True, help_text="None in bulk."
    )
    line_total = models.DecimalField(max_digits=12, decimal_places=2, default=0)
    deposit = models.DecimalField(max_digits=12, decimal_places=2, default=0)

    price_breakdown = StoredIn(LinePrice, "price")

    objects = QuoteLineQuerySet.as_manager()

    class Meta:
        ordering = ("quote_id", "position")
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["quote", "position"],
                name="quote_line_position_is_unique",
                violation_error_message="Two lines stand in one place.",
            ),
            models.CheckConstraint(
                condition=Q(quantity__gt=0),
                name="quote_line_quantity_is_positive",
                violation_error_message="Order at least one.",
            ),
            models.CheckConstraint(
                condition=Q(deal="", deal_figure__isnull=True) | Q(deal__gt="", deal_figure__gte=0),
                name="quote_line_deal_has_its_figure",
                violation_error_message="What was negotiated needs its figure.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quote.number}/{self.position}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        _require_draft_quotes({self.quote_id})
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        _require_draft_quotes({self.quote_id})
        return super().delete(*args, **kwargs)

    @property
    def spraying(self) -> Spraying | None:
        """None where nothing was written down."""
        kept = cast("Mapping[str, Any]", self.sprayed)
        return Spraying.from_json(kept) if kept else None


class QuoteEvent(Event):
    quote = models.ForeignKey(Quote, on_delete=models.CASCADE, related_name="events")

    @property
    def total(self) -> Decimal | None:
        """The quote's total from then on, dollars; None where nothing was priced."""
        total = self.data.get("total")
        return None if total is None else Decimal(total)

    @property
    def is_lowest_total(self) -> bool:
        """Whether ``total`` is that of the cheapest of several choices."""
        return "choice_totals" in self.data
