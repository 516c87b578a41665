"""What a quote prints: frozen values, no ORM, no clock."""

from __future__ import annotations

import dataclasses
import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from blendshop.languages.choice import house_choice
from blendshop.snapshot import Snapshot
from orders.papers.view_models import AnalysisFigure, PaperFinding
from orders.records.letterhead import Party, Plant
from orders.records.written import Written


@dataclass(frozen=True, slots=True)
class QuoteCharge(Snapshot):
    """A deposit, freight or other amount beside the goods; a credit is negative."""

    label: str
    amount: Decimal
    detail: str = ""


class Freight(StrEnum):
    """What the prices of a quote say of freight."""

    NOT_SAID = ""  # on papers of before
    INCLUDED = "included"
    PICKED_UP = "picked_up"


@dataclass(frozen=True, slots=True)
class QuoteLine(Snapshot):
    """One blend on a quote. Prices are what the customer pays: never a cost or a margin.

    ``includes`` are the charges inside ``line_total`` that a customer may see on their own,
    ``off_whole`` the line's share of a discount on the whole quote, which is among them.
    """

    OMITTED = frozenset({"off_whole"})

    blend_name: str
    blend_reference: str
    grade: str
    analysis: tuple[AnalysisFigure, ...]
    slow_release_pct: float | None  # percent of total N
    density_lb_per_gal: float
    package_name: str
    package_count: int
    volume_gal: float  # of the whole line
    mass_lb: float  # of the whole line
    price_per_gal: Decimal
    price_per_package: Decimal
    line_total: Decimal
    n_rate_lb_per_1000sqft: float | None = None
    price_per_1000sqft: Decimal | None = None
    price_per_lb_n: Decimal | None = None
    cautions: tuple[str, ...] = ()
    weighed: str = ""  # how each stock is weighed, a sentence
    is_bulk: bool = False
    includes: tuple[QuoteCharge, ...] = ()
    stops: tuple[str, ...] = ()  # what the office has answered for, in the customer's words
    off_whole: Decimal | None = None


@dataclass(frozen=True, slots=True)
class QuoteChoice(Snapshot):
    """What the customer may take: lines by their printed numbers, their deposits, what it costs."""

    name: str
    lines: tuple[int, ...]
    deposits: tuple[QuoteCharge, ...]
    total: Decimal


@dataclass(frozen=True, slots=True)
class QuoteView(Snapshot):
    """A quote. ``total`` must be the sum of line totals, deposits, freight and other charges.

    With ``choices`` each has its own total and deposits, and the ``total`` is the lowest.
    ``written`` says how; ``in_english`` or ``in_spanish`` is the same in the other language, of the
    same moment, for who reads that.
    """

    OMITTED = frozenset({"choices", "written", "in_english", "in_spanish", "off_pct"})

    plant: Plant
    number: str
    quoted_on: dt.date
    valid_until: dt.date
    customer: Party
    ship_to: Party
    lines: tuple[QuoteLine, ...]
    total: Decimal
    deposits: tuple[QuoteCharge, ...] = ()
    freight: tuple[QuoteCharge, ...] = ()
    other_charges: tuple[QuoteCharge, ...] = ()
    currency: str = "USD"  # ISO 4217, printed by blendshop.money
    prepared_by: str = ""
    notes: str = ""
    terms: tuple[str, ...] = ()  # one paragraph each
    accept_url: str = ""  # printed as QR and text when given
    cautions: tuple[PaperFinding, ...] = ()
    due_on: dt.date | None = None  # for an order placed on the day of the quote
    replaces: str = ""  # number of the quote it takes the place of
    choices: tuple[QuoteChoice, ...] = ()
    freight_terms: Freight = Freight.NOT_SAID
    payment: str = ""  # terms in words
    rep_phone: str = ""  # of who prepared it
    reply_to: str = ""  # the mail address that reads answers
    off_pct: Decimal | None = None  # of the discount on all of it, where it was said in percent
    written: Written | None = None  # None: as the house writes
    in_english: QuoteView | None = None
    in_spanish: QuoteView | None = None

    def __post_init__(self) -> None:
        if not self.lines:
            raise ValueError("A quote needs at least one line.")
        if self.choices:
            self._check_choices()
            return
        charged = self.goods_total + sum(charge.amount for charge in self.charges)
        if charged != self.total:
            raise ValueError(f"The quote's total {self.total} is not the sum {charged}.")

    def _check_choices(self) -> None:
        for choice in self.choices:
            deposits = sum((charge.amount for charge in choice.deposits), Decimal(0))
            if self.goods_of(choice) + deposits != choice.total:
                raise ValueError(f"The total of {choice.name} is not the sum of its lines.")
        if self.charges or self.total != min(choice.total for choice in self.choices):
            raise ValueError("With choices, each has its charges and the lowest total counts.")

    def goods_of(self, choice: QuoteChoice) -> Decimal:
        """Sum of the line totals of a choice."""
        return sum((self.lines[number - 1].line_total for number in choice.lines), Decimal(0))

    def off_whole(self, choice: QuoteChoice | None = None) -> Decimal:
        """The discount on all lines, or on those of a choice; 0 without one."""
        lines = self.lines if choice is None else [self.lines[each - 1] for each in choice.lines]
        return sum((line.off_whole or Decimal(0) for line in lines), Decimal(0))

    def if_taken(self, number: int | None) -> QuoteView:
        """What remains of it once the customer takes a choice; itself without one."""
        if number is None or not self.choices:
            return self
        choice = self.choices[number - 1]
        english, spanish = self.in_english, self.in_spanish
        return dataclasses.replace(
            self,
            lines=tuple(self.lines[each - 1] for each in choice.lines),
            deposits=choice.deposits,
            total=choice.total,
            choices=(),
            in_english=english and english.if_taken(number),
            in_spanish=spanish and spanish.if_taken(number),
        )

    @property
    def language(self) -> str:
        """In which it was issued."""
        return house_choice().language if self.written is None else self.written.language

    def read_in(self, language: str) -> QuoteView:
        """For a reader of ``language``: what was kept in that, where it was issued in another."""
        if language == self.language:
            return self
        beside = {"en": self.in_english, "es": self.in_spanish}
        return beside.get(language) or self

    @property
    def goods_total(self) -> Decimal:
        """Sum of the line totals."""
        return sum((line.line_total for line in self.lines), Decimal(0))

    @property
    def charges(self) -> tuple[QuoteCharge, ...]:
        """Everything charged beside the goods, in printed order."""
        return (*self.freight, *self.other_charges, *self.deposits)
