"""What a recall letter says to one customer: its own goods and nobody else's, no reason of ours."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Final

from django.utils import timezone
from django.utils.translation import gettext, gettext_noop

from blendshop.errors import IllegalMove
from blendshop.figures.readers import reader
from blendshop.snapshot import Snapshot
from orders.models import PlantProfile, Recall
from orders.papers.standing_texts import told_to_customers
from orders.planning.mixture import planned_hazards
from orders.recall.affected import AffectedCustomer, Goods
from orders.records.letterhead import Party, Plant, plant_block
from orders.records.plant_words import package_words
from orders.records.written import ENGLISH, Written, has_english_beside, writing, written_for

#: common practice, no source
WHAT_TO_DO: Final = (
    gettext_noop(
        "Stop using the product below now, also what is already in a sprayer or nurse tank."
    ),
    gettext_noop("Set it aside closed and marked. Do not mix, dilute, pass on or pour it out."),
    gettext_noop(
        "Call us with how much is left and where the rest was applied; we say what becomes of it."
    ),
)


@dataclass(frozen=True, slots=True)
class RecalledGoods(Snapshot):
    """Packages of one batch in one shipment. ``not_numbered`` packages carry no serial."""

    product_name: str
    grade: str
    batch_number: str
    order_number: str
    package_name: str
    serials: tuple[str, ...]
    net_lb: Decimal
    not_numbered: int
    shipped_on: date


@dataclass(frozen=True, slots=True)
class RecallLetterView(Snapshot):
    """The frozen content of one letter. ``reason`` is in the words a formulator wrote.

    ``written`` says how it is written, ``in_english`` is the same in English.
    """

    OMITTED = frozenset({"written", "in_english"})

    plant: Plant
    number: str
    dated: date
    customer: Party
    reason: str
    goods: tuple[RecalledGoods, ...]
    what_to_do: tuple[str, ...]
    cautions: tuple[str, ...]
    written: Written | None = None  # None: as the house writes
    in_english: RecallLetterView | None = None


def recall_letter_view(recall: Recall, customer: AffectedCustomer) -> RecallLetterView:
    """The letter of today; IllegalMove until a formulator has written what customers are told.

    Dated with the recall's opening day, so that an unchanged letter stays the same paper.
    """
    if not recall.customer_reason:
        raise IllegalMove(
            gettext(
                "%(recall)s has no words for customers yet; a formulator writes them"
                " before a letter is printed."
            )
            % {"recall": recall.number}
        )
    written = written_for(customer.company)
    with writing(written):
        view = replace(_gathered(recall, customer), written=written)
    if not has_english_beside(written):
        return view
    with writing(ENGLISH):
        return replace(view, in_english=replace(_gathered(recall, customer), written=ENGLISH))


def _gathered(recall: Recall, customer: AffectedCustomer) -> RecallLetterView:
    batches = {each.batch.pk: each.batch for each in customer.goods}
    plans = [batch.load_plan for batch in batches.values()]
    told = [
        text.text
        for plan in plans
        for text in told_to_customers(plan.analysis, planned_hazards(plan))
    ]
    people = ", ".join(str(person) for person in customer.people)
    return RecallLetterView(
        plant=plant_block(PlantProfile.load()),
        number=recall.number,
        dated=timezone.localdate(recall.opened_at),
        customer=Party(customer.company.name, customer.goods[0].ship_to_lines, people),
        reason=recall.customer_reason,
        goods=tuple(_recalled(each) for each in customer.goods),
        what_to_do=tuple(gettext(each) for each in WHAT_TO_DO),
        cautions=tuple(dict.fromkeys(told)),
    )


def _recalled(goods: Goods) -> RecalledGoods:
    if goods.shipped_on is None:
        raise ValueError("A letter lists what has left the plant.")
    return RecalledGoods(
        product_name=goods.product_name,
        grade=goods.grade,
        batch_number=goods.batch.number,
        order_number=goods.order_number,
        package_name=goods.package_name,
        serials=tuple(serial for serial, _ in goods.serials),
        net_lb=sum((net_lb for _, net_lb in goods.serials), Decimal(0)),
        not_numbered=goods.not_numbered,
        shipped_on=goods.shipped_on,
    )


def amount_words(goods: RecalledGoods) -> str:
    """``2 × tote: B-01, B-02; 4,800 lb net.`` and how many have no serial."""
    count = len(goods.serials) + goods.not_numbered
    told = [f"{reader().every_digit(count)} × {package_words(goods.package_name, count)}"]
    if goods.serials:
        figures = reader()
        told.append(
            gettext("serials {serials}, {mass} {unit} net").format(
                serials=", ".join(goods.serials),
                mass=figures.weighed_number(goods.net_lb),
                unit=figures.units.mass_lb.mark,
            )
        )
    if goods.not_numbered:
        told.append(
            gettext("{count} without a serial").format(
                count=reader().every_digit(goods.not_numbered)
            )
        )
    return "; ".join(told)


def mail_text(view: RecallLetterView) -> str:
    """The letter as plain text, to be copied into a mail."""
    with writing(view.written):
        return _mail_text(view)


def _mail_text(view: RecallLetterView) -> str:
    goods = [
        gettext("- {product}, batch {batch}, order {order}, shipped {day}: {amount}").format(
            product=f"{each.product_name} {each.grade}",
            batch=each.batch_number,
            order=each.order_number,
            day=reader().date(each.shipped_on),
            amount=amount_words(each),
        )
        for each in view.goods
    ]
    reach = ", ".join(part for part in (view.plant.phone, view.plant.email) if part)
    return "\n".join(
        [
            gettext("Subject: Recall {number}: stop using the product below").format(
                number=view.number
            ),
            "",
            gettext("To {customer}").format(customer=view.customer.name),
            "",
            view.reason,
            "",
            *goods,
            "",
            *(f"{number}. {text}" for number, text in enumerate(view.what_to_do, start=1)),
            "",
            *view.cautions,
            "",
            view.plant.name,
            reach,
        ]
    )
