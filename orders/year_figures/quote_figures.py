"""Quotes: what was won, what was not and why, how long an answer took."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta
from decimal import Decimal
from typing import Any, Final

from django.db.models import (
    Avg,
    Count,
    DecimalField,
    DurationField,
    Exists,
    Expression,
    ExpressionWrapper,
    F,
    FloatField,
    OuterRef,
    Q,
    QuerySet,
    Sum,
    Value,
)
from django.db.models.functions import Cast, Coalesce, Lower, NullIf, Trim, TruncMonth
from django.utils.translation import gettext as _

from blendshop.money import ZERO
from orders.models import Quote, QuoteLine
from orders.year_figures.asked import NOBODY, Asked, By
from orders.year_figures.group_rows import MANY, GroupRows, ordering
from orders.year_figures.order_lines import key_of, label_of
from orders.year_figures.table import Column, Figure, Kind, Row, Table, share_pct

Status = Quote.Status
_A_DAY: Final = timedelta(days=1)
_GROUPS: Final[Mapping[By, tuple[str, str]]] = {
    By.CUSTOMER: ("company", "company__name"),
    By.BLEND: ("lines__revision__blend", "lines__revision__blend__name"),
    By.REP: ("created_by", "created_by__name"),
    By.STATE: ("ship_to__state", "ship_to__state"),
    By.MONTH: ("month", "month"),
    By.RECORD: ("pk", "number"),
}


def quotes_table(asked: Asked) -> Table:
    """How many quotes sent in the period were won, and after how many days they were answered."""
    columns = (
        Column("won_pct", _("Won, %"), Kind.PERCENT, worst_is_high=False),
        Column("won", _("Accepted"), Kind.WHOLE),
        Column("declined", _("Declined"), Kind.WHOLE, worst_is_high=True),
        Column("expired", _("Expired"), Kind.WHOLE, worst_is_high=True),
        Column("open", _("Open"), Kind.WHOLE),
        Column("days", _("Days to answer"), Kind.TENTHS, worst_is_high=True),
        Column("offered", _("Quoted"), Kind.MONEY),
        Column("won_dollars", _("Won"), Kind.MONEY),
    )
    quotes = sent_quotes(asked)
    groups = _grouped(quotes, asked.by)
    found = groups.annotate(**_sums())

    def row(of: Mapping[str, Any]) -> Row:
        return Row(key_of(of), label_of(of, asked.by), _cells(of))

    def in_order(wanted: str) -> GroupRows:
        # As many as there are without looking which line of a blend is its first.
        there = quotes.exclude(lines=None) if asked.by == By.BLEND else quotes
        counted = there.values(of=F(_GROUPS[asked.by][0])).distinct()
        return GroupRows(found.order_by(*ordering(wanted, _VALUES)), counted, row)

    are_many = asked.by in MANY
    return Table(
        heading=_("Quote") if asked.by == By.RECORD else str(asked.by.label),
        columns=columns,
        rows=() if are_many else tuple(map(row, found)),
        total=_cells(quotes.aggregate(**_sums())),
        counts=_("Quotes sent"),
        drawn="won_pct",
        sort="label" if asked.by == By.MONTH else "won_pct",
        notes=(
            _(
                "Won is accepted of those accepted, declined or expired. What was withdrawn or"
                " replaced by a newer version is left out, and a quote of several blends counts"
                " once for each of them. Dollars without deposits; of open choices the cheapest."
            ),
        ),
        in_order=in_order if are_many else None,
    )


def reasons_table(asked: Asked) -> Table:
    """Why quotes were declined, in the customers' own words; the same words count together."""
    columns = (
        Column("declined", _("Declined"), Kind.WHOLE, worst_is_high=True),
        Column("offered", _("Quoted"), Kind.MONEY, worst_is_high=True),
    )
    declined = sent_quotes(asked).filter(status=Status.DECLINED)
    sums = {"declined": Count("pk"), "offered": Sum(F("total") - F("deposit_total"))}
    by_words = declined.annotate(words=Lower(Trim("decision_note"))).values("words")
    rows = tuple(
        Row(row["words"], row["words"] or _("no reason given"), _reason_cells(row))
        for row in by_words.annotate(**sums)
    )
    return Table(
        heading=_("Reason"),
        columns=columns,
        rows=rows,
        total=_reason_cells(declined.aggregate(**sums)),
        counts=_("Quotes sent and declined"),
        drawn="declined",
        sort="-declined",
    ).sorted("-declined")


def sent_quotes(asked: Asked) -> QuerySet[Quote]:
    """Quotes that went out in the period and were neither withdrawn nor replaced."""
    period = asked.period
    quotes: QuerySet[Quote] = Quote.objects.filter(
        sent_at__gte=period.begin,
        sent_at__lt=period.end,
        status__in=[Status.SENT, Status.ACCEPTED, Status.DECLINED, Status.EXPIRED],
    )
    if asked.customer is not None:
        quotes = quotes.filter(company=asked.customer)
    if asked.blend is not None:
        of_blend = QuoteLine.objects.filter(revision__blend=asked.blend)
        quotes = quotes.filter(pk__in=of_blend.values("quote"))
    if asked.rep == NOBODY:
        return quotes.none()
    if asked.rep is not None:
        quotes = quotes.filter(created_by=asked.rep)
    if asked.state:
        quotes = quotes.filter(ship_to__state=asked.state)
    return quotes.order_by()


def _grouped(quotes: QuerySet[Any, Any], by: By) -> QuerySet[Any, dict[str, Any]]:
    key, label = _GROUPS[by]
    if by == By.MONTH:
        quotes = quotes.annotate(month=TruncMonth("sent_at"))
    if by == By.BLEND:
        # The same blend in two packages or two choices is one blend of the quote.
        before = QuoteLine.objects.filter(
            quote=OuterRef("quote"),
            revision__blend=OuterRef("revision__blend"),
            pk__lt=OuterRef("pk"),
        )
        quotes = quotes.filter(lines__in=QuoteLine.objects.filter(~Exists(before)))
    groups: QuerySet[Any, dict[str, Any]] = quotes.values(of=F(key), called=F(label))
    return groups


def _sums() -> dict[str, Any]:
    answered = Q(status__in=[Status.ACCEPTED, Status.DECLINED], decided_at__isnull=False)
    took = ExpressionWrapper(F("decided_at") - F("sent_at"), output_field=DurationField())
    dollars = F("total") - F("deposit_total")
    return {
        "won": Count("pk", filter=Q(status=Status.ACCEPTED)),
        "declined": Count("pk", filter=Q(status=Status.DECLINED)),
        "expired": Count("pk", filter=Q(status=Status.EXPIRED)),
        "open": Count("pk", filter=Q(status=Status.SENT)),
        "took": Avg(took, filter=answered),
        "offered": Sum(dollars),
        "won_dollars": Sum(dollars, filter=Q(status=Status.ACCEPTED)),
    }


#: What the database sorts a column by, of the sums of a group.
_VALUES: Final[Mapping[str, Expression | F]] = {
    **{name: F(name) for name in ("won", "declined", "expired", "open")},
    "won_pct": Cast("won", FloatField())
    / NullIf(Cast(F("won") + F("declined") + F("expired"), FloatField()), Value(0.0)),
    "days": F("took"),
    "offered": F("offered"),
    "won_dollars": Coalesce("won_dollars", Value(ZERO), output_field=DecimalField()),
}


def _cells(sums: Mapping[str, Any]) -> dict[str, Figure]:
    decided = sums["won"] + sums["declined"] + sums["expired"]
    took: timedelta | None = sums["took"]
    return {
        "won": sums["won"],
        "declined": sums["declined"],
        "expired": sums["expired"],
        "open": sums["open"],
        "won_pct": share_pct(float(sums["won"]), float(decided)),
        "days": None if took is None else took / _A_DAY,
        "offered": _dollars(sums["offered"]),
        "won_dollars": _dollars(sums["won_dollars"]),
    }


def _reason_cells(sums: Mapping[str, Any]) -> dict[str, Figure]:
    return {"declined": sums["declined"], "offered": _dollars(sums["offered"])}


def _dollars(amount: Decimal | None) -> Decimal:
    return ZERO if amount is None else amount
