"""What was left undone: from a stock not charged to an order not shipped."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from django.db.models import Count
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders.inventory.holds import hold_words_by_batch
from orders.models import Batch, Order, PackageSerial, UnsentWeights
from orders.production.density_read import read_batches
from orders.scales.standing import at_words
from orders.shift.tanks_today import Begun, TankToday


class Kind(StrEnum):
    """What somebody has still to do."""

    UNSENT = "unsent"
    CHARGE = "charge"
    CLEAN = "clean"
    READ = "read"
    RELEASE = "release"
    FILL = "fill"
    CLOSE = "close"
    SHIP = "ship"


@dataclass(frozen=True, slots=True)
class Undone:
    """One thing left: of what (a number or a name), in words, and where it is done."""

    kind: Kind
    of: str
    words: str
    url: str
    report: UnsentWeights | None = None


def left_undone(
    begun: Sequence[Begun], tanks: Iterable[TankToday], reports: Iterable[UnsentWeights]
) -> list[Undone]:
    """In the order the work goes on; a number of queries that no number of batches changes."""
    mixed = list(
        Batch.objects.filter(status__in=(Batch.Status.MADE, Batch.Status.HELD))
        .for_long_list()
        .by_due_date()
    )
    to_fill = list(
        Batch.objects.filter(status=Batch.Status.RELEASED, closing__isnull=True)
        .for_long_list()
        .by_due_date()
    )
    holds = hold_words_by_batch(batch.pk for batch in [*mixed, *to_fill])
    return [
        *_unsent(reports),
        *_to_charge(begun),
        *_to_clean(tanks),
        *_to_read_or_release(mixed, holds),
        *_to_fill(to_fill, holds),
        *_to_ship(),
    ]


def _unsent(reports: Iterable[UnsentWeights]) -> Iterator[Undone]:
    for report in reports:
        count = ngettext("%(n)s weight", "%(n)s weights", report.count) % {"n": report.count}
        yield Undone(
            Kind.UNSENT,
            report.batch.number,
            _("%(who)s's tablet: %(count)s unsent, last seen %(at)s.")
            % {"who": report.by, "count": count, "at": at_words(report.seen_at)},
            reverse("batch_charge", args=[report.batch.number]),
            report,
        )


def _to_charge(begun: Iterable[Begun]) -> Iterator[Undone]:
    for each in begun:
        if each.to_come:
            stocks = ", ".join(step.name for step in each.to_come)
            words = _("%(left)s of %(all)s stocks not charged: %(stocks)s.") % {
                "left": len(each.to_come),
                "all": len(each.steps),
                "stocks": stocks,
            }
        else:
            words = _("Every stock is in; nobody has said that it is mixed.")
        if each.last is not None and each.last_at is not None:
            words = f"{words} " + _("Last weight by %(who)s, %(at)s.") % {
                "who": each.last.who,
                "at": at_words(each.last_at),
            }
        url = reverse("batch_charge", args=[each.batch.number])
        yield Undone(Kind.CHARGE, each.batch.number, words, url)


def _to_clean(tanks: Iterable[TankToday]) -> Iterator[Undone]:
    for each in tanks:
        if each.asks_cleaning and each.next is not None:
            words = _("A flush is asked for before %(batch)s; nobody has signed the cleaning.")
            yield Undone(
                Kind.CLEAN,
                each.tank.name,
                words % {"batch": each.next.batch.number},
                reverse("tank_cleaning", args=[each.tank.pk]),
            )


def _to_read_or_release(mixed: Sequence[Batch], holds: dict[int, str]) -> Iterator[Undone]:
    read = read_batches(mixed)
    for batch in mixed:
        url = reverse("batch_quality", args=[batch.number])
        hold = holds.get(batch.pk, "")
        if batch.pk not in read:
            words = _("Mixed; no density and pH read.")
            yield Undone(Kind.READ, batch.number, f"{words} {hold}".strip(), url)
        elif batch.status == Batch.Status.HELD:
            words = _("Held: a formulator decides.")
            yield Undone(Kind.RELEASE, batch.number, f"{words} {hold}".strip(), url)
        else:
            words = _("Read, not released.")
            yield Undone(Kind.RELEASE, batch.number, f"{words} {hold}".strip(), url)


def _to_fill(released: Sequence[Batch], holds: dict[int, str]) -> Iterator[Undone]:
    rows = PackageSerial.objects.filter(part__batch__in=released).order_by()
    filled = dict(rows.values_list("part__batch").annotate(Count("pk")))
    for batch in released:
        wanted = sum(part.package_count for part in batch.parts.all())
        done = filled.get(batch.pk, 0)
        if done < wanted:
            kind = Kind.FILL
            words = _("Released; %(done)s of %(all)s packages filled.") % {
                "done": done,
                "all": wanted,
            }
        else:
            kind = Kind.CLOSE
            words = _("Filled; its balance is not drawn and the tank not drained.")
        hold = holds.get(batch.pk, "")
        url = reverse("batch_packages", args=[batch.number])
        yield Undone(kind, batch.number, f"{words} {hold}".strip(), url)


def _to_ship() -> Iterator[Undone]:
    made = Order.objects.filter(status=Order.Status.MADE).order_by("due_on", "pk")
    for order in made.select_related("company"):
        words = _("For %(customer)s, due %(due)s: made, not shipped.") % {
            "customer": order.company,
            "due": date_format(order.due_on, "D, M j"),
        }
        yield Undone(Kind.SHIP, order.number, words, reverse("order_detail", args=[order.number]))
