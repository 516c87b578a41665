"""What a recall letter says to one customer: its own goods and nobody else's, no reason of ours."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Final

from django.utils import timezone
from django.utils.translation import gettext

from blendshop.errors import IllegalMove
from blendshop.figures.readers import house
from blendshop.snapshot import Snapshot
from orders.models import PlantProfile, Recall
from orders.papers.standing_texts import cautions
from orders.planning.mixture import planned_hazards
from orders.recall.affected import AffectedCustomer, Goods
from orders.records.letterhead import Party, Plant, plant_block

#: common practice, no source
WHAT_TO_DO: Final = (
    "Stop using the product below now, also what is already in a sprayer or nurse tank.",
    "Set it aside closed and marked. Do not mix, dilute, pass on or pour it out.",
    "Call us with how much is left and where the rest was applied; we say what becomes of it.",
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
    """The frozen content of one letter."""

    plant: Plant
    number: str
    dated: date
    customer: Party
    reason: str
    goods: tuple[RecalledGoods, ...]
    what_to_do: tuple[str, ...]
    cautions: tuple[str, ...]


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
    batches = {each.batch.pk: each.batch for each in customer.goods}
    plans = [batch.load_plan for batch in batches.values()]
    told = [text.text for plan in plans for text in cautions(plan.analysis, planned_hazards(plan))]
    people = ", ".join(str(person) for person in customer.people)
    return RecallLetterView(
        plant=plant_block(PlantProfile.load()),
        number=recall.number,
        dated=timezone.localdate(recall.opened_at),
        customer=Party(customer.company.name, customer.goods[0].ship_to_lines, people),
        reason=recall.customer_reason,
        goods=tuple(_recalled(each) for each in customer.goods),
        what_to_do=WHAT_TO_DO,
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
    told = [f"{house().every_digit(count)} × {goods.package_name}"]
    if goods.serials:
        told.append(f"serials {', '.join(goods.serials)}, {house().weighed(goods.net_lb)} net")
    if goods.not_numbered:
        told.append(f"{house().every_digit(goods.not_numbered)} without a serial")
    return "; ".join(told)


def mail_text(view: RecallLetterView) -> str:
    """The letter as plain text, to be copied into a mail."""
    goods = [
        f"- {each.product_name} {each.grade}, batch {each.batch_number}, order"
        f" {each.order_number}, shipped {house().date(each.shipped_on)}: {amount_words(each)}"
        for each in view.goods
    ]
    reach = ", ".join(part for part in (view.plant.phone, view.plant.email) if part)
    return "\n".join(
        [
            f"Subject: Recall {view.number}: stop using the product below",
            "",
            f"To {view.customer.name}",
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
