"""What is looked for, kind by kind: each along an index, each no further than it is shown.

Numbers, codes and serials are unique and have an index for what begins like them; customers and
blends are few enough for their names to be looked through. Frozen JSON is read only of the rows
that are shown.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final
from urllib.parse import urlencode

from django.conf import settings
from django.db.models import Q, QuerySet
from django.urls import reverse
from django.utils.translation import gettext as _

from blendshop.accounts.models import Company, User
from blendshop.accounts.search import named
from blendshop.figures.readers import reader
from blendshop.roles import has_role
from formulas.models import Blend, BlendRevision
from orders.customers.actions import KEEPS_CUSTOMERS
from orders.inventory.actions.lots import LOT_PREFIX
from orders.models import Batch, BatchPart, Order, PackageSerial, Quote, StockLot
from orders.ordering.actions import ORDER_PREFIX
from orders.planning.actions.planning import BATCH_PREFIX
from orders.quoting.actions.drafts import QUOTE_PREFIX
from orders.searching.asked import Asked
from orders.searching.found import Fit, Fitting, Group, Hit, Way, fitting, in_order

#: Quotes and orders are looked for of no more customers than this.
_MOST_CUSTOMERS: Final = 50


@dataclass(frozen=True, slots=True)
class Search:
    """One question of one person; ``customers`` are keys of companies with the words in their name.

    Whoever may see an order or a quote reads its customer there, so these are not narrowed here.
    """

    user: User
    asked: Asked
    customers: tuple[int, ...]


def search(user: User, asked: Asked) -> list[Group]:
    """All that fits and the user may open, the kinds with the best hits first."""
    if not asked.text:
        return []
    keys = named(Company.objects.all(), asked.text).order_by("name", "pk")
    wanted = Search(user, asked, tuple(keys.values_list("pk", flat=True)[:_MOST_CUSTOMERS]))
    finders = (_customers, _blends, _quotes, _orders, _batches, _lots, _packages)
    return in_order(find(wanted) for find in finders)


def _numbered(column: str, rows: QuerySet[Any], asked: Asked, prefix: str = "") -> list[Way]:
    """Ways to rows by their number: as typed, by its end, last by its beginning."""
    if not asked.may_be_number:
        return []
    begins = Q()
    for spelling in asked.spellings:
        begins |= Q(**{f"{column}__startswith": spelling})
    exact = rows.filter(**{f"{column}__in": asked.spellings})
    running = rows.filter(**{f"{column}__in": asked.running(prefix)}).order_by("-pk")
    return [
        (Fit.EXACT, exact),
        *([(Fit.RUNNING_NUMBER, running)] if prefix else []),
        (Fit.BEGINS, rows.filter(begins).order_by("-pk")),
    ]


def _list_url(route: str, found: Fitting, asked: Asked, **more: str) -> str:
    if not found.is_part:
        return ""
    return f"{reverse(route)}?{urlencode({'q': asked.text, **more})}"


def _customers(wanted: Search) -> Iterator[Group]:
    if not has_role(wanted.user, *KEEPS_CUSTOMERS):
        return
    seen = Company.objects.visible_to(wanted.user)
    text = wanted.asked.text
    found = fitting(
        (Fit.EXACT, seen.filter(name__iexact=text)),
        (Fit.BEGINS, seen.filter(name__istartswith=text)),
        (Fit.NAMED, named(seen, text)),
    )
    if found:
        rows = found.rows(Company.objects.prefetch_related("ship_tos"))
        all_url = _list_url("customer_list", found, wanted.asked)
        hits = tuple(map(_customer, rows))
        yield Group("customers", _("Customers"), hits, found.best, all_url)


def _customer(company: Company) -> Hit:
    towns = dict.fromkeys(f"{place.city} {place.state}" for place in company.ship_tos.all())
    words = [_("Customer"), *list(towns)[:3]]
    if not company.active:
        words.append(_("closed for new quotes"))
    return Hit(company.name, ", ".join(words), reverse("customer_detail", args=[company.pk]))


def _blends(wanted: Search) -> Iterator[Group]:
    seen = Blend.objects.visible_to(wanted.user).order_by("archived", "name", "pk")
    text, grade = wanted.asked.text, wanted.asked.grade
    ways: list[Way] = [
        (Fit.EXACT, seen.filter(name__iexact=text)),
        (Fit.BEGINS, seen.filter(name__istartswith=text)),
        (Fit.NAMED, seen.filter(name__icontains=text)),
    ]
    if grade:
        graded = BlendRevision.objects.filter(grade=grade, for_order_only=False).values("blend")
        ways.insert(1, (Fit.EXACT, seen.filter(pk__in=graded)))
    found = fitting(*ways)
    if found:
        rows = found.rows(Blend.objects.with_latest())
        all_url = _list_url("blend_list", found, wanted.asked)
        yield Group("blends", _("Blends"), tuple(map(_blend, rows)), found.best, all_url)


def _blend(blend: Any) -> Hit:
    owner = str(blend.company or _("plant's own book"))
    line = _("Blend {grade}, {owner}").format(grade=blend.latest_grade or "", owner=owner)
    if blend.archived:
        line = _("{line}, archived").format(line=line)
    return Hit(blend.name, line, reverse("blend_detail", args=[blend.pk]))


def _quotes(wanted: Search) -> Iterator[Group]:
    seen = Quote.objects.visible_to(wanted.user).order_by()
    of_customers = seen.filter(company__in=wanted.customers).order_by("-created_at", "-pk")
    found = fitting(
        *_numbered("number", seen, wanted.asked, QUOTE_PREFIX),
        *([(Fit.NAMED, of_customers)] if wanted.customers else []),
    )
    if found:
        rows = found.rows(Quote.objects.select_related("company"))
        all_url = _list_url("quote_list", found, wanted.asked)
        yield Group("quotes", _("Quotes"), tuple(map(_quote, rows)), found.best, all_url)


def _quote(quote: Quote) -> Hit:
    total = reader().money(quote.total, settings.CURRENCY)
    words = [
        _("Quote for {customer}").format(customer=quote.company),
        _("from {total}").format(total=total) if quote.is_choice_open else total,
        str(quote.get_status_display()),
    ]
    return Hit(quote.number, ", ".join(words), reverse("quote_detail", args=[quote.number]))


def _orders(wanted: Search) -> Iterator[Group]:
    asked, seen = wanted.asked, Order.objects.visible_to(wanted.user).order_by()
    newest = seen.order_by("-due_on", "-pk")
    numbered = _numbered("number", seen, asked, ORDER_PREFIX)
    by_reference = newest.filter(customer_reference__in=asked.spellings)
    ways = [*numbered[:-1], (Fit.EXACT, by_reference), *numbered[-1:]]
    if wanted.customers:
        of_customers = newest.filter(company__in=wanted.customers)
        ways.append((Fit.NAMED, of_customers))
    found = fitting(*ways)
    if found:
        rows = found.rows(Order.objects.select_related("company"))
        all_url = _list_url("order_board", found, asked, status="all")
        yield Group("orders", _("Orders"), tuple(map(_order, rows)), found.best, all_url)


def _order(order: Order) -> Hit:
    words = [
        _("Order of {customer}").format(customer=order.company),
        str(order.get_status_display()),
        _("due {day}").format(day=reader().date(order.due_on)),
    ]
    if order.customer_reference:
        words.append(_("their number {number}").format(number=order.customer_reference))
    return Hit(order.number, ", ".join(words), reverse("order_detail", args=[order.number]))


def _batches(wanted: Search) -> Iterator[Group]:
    seen = Batch.objects.visible_to(wanted.user).order_by()
    ways = _numbered("number", seen, wanted.asked, BATCH_PREFIX)
    if wanted.customers:
        orders = Order.objects.visible_to(wanted.user).filter(company__in=wanted.customers)
        recent = orders.order_by("-due_on", "-pk").values_list("pk", flat=True)[:_MOST_CUSTOMERS]
        parts = BatchPart.objects.filter(order_line__order__in=list(recent)).values("batch")
        ways.append((Fit.NAMED, seen.filter(pk__in=parts).order_by("-created_at", "-pk")))
    found = fitting(*ways)
    if found:
        rows = found.rows(Batch.objects.for_long_list())
        all_url = _list_url("batch_list", found, wanted.asked, status="all")
        yield Group("batches", _("Batches"), tuple(map(_batch, rows)), found.best, all_url)


def _batch(batch: Batch) -> Hit:
    name, grade = batch.product_name, batch.grade
    line = _("Batch of {blend}, {volume} in {tank}, {status}").format(
        blend=name if grade in name else f"{name} {grade}",
        volume=reader().volume(batch.target_gal, 0),
        tank=batch.tank.name,
        status=batch.get_status_display(),
    )
    return Hit(batch.number, line, reverse("batch_detail", args=[batch.number]))


def _lots(wanted: Search) -> Iterator[Group]:
    asked, seen = wanted.asked, StockLot.objects.visible_to(wanted.user).order_by()
    newest = seen.order_by("-received_on", "-pk")
    by_supplier = newest.filter(supplier_lot__in=asked.spellings)
    numbered = _numbered("code", seen, asked, LOT_PREFIX)
    found = fitting(*numbered[:-1], (Fit.EXACT, by_supplier), *numbered[-1:])
    if found:
        rows = found.rows(StockLot.objects.select_related("stock"))
        all_url = _list_url("lot_list", found, asked, state="all")
        yield Group("lots", _("Lots"), tuple(map(_lot, rows)), found.best, all_url)


def _lot(lot: StockLot) -> Hit:
    line = _("Lot of {stock}, {mass} on hand, {state}").format(
        stock=lot.stock.name,
        mass=reader().weighed(lot.on_hand_lb),
        state=lot.get_state_display(),
    )
    if lot.supplier_lot:
        line = _("{line}, supplier's lot {code}").format(line=line, code=lot.supplier_lot)
    return Hit(lot.code, line, reverse("lot_detail", args=[lot.code]))


def _packages(wanted: Search) -> Iterator[Group]:
    if not wanted.asked.may_be_number:
        return
    seen = PackageSerial.objects.filter(
        part__in=BatchPart.objects.visible_to(wanted.user).values("pk")
    ).order_by()
    found = fitting(*_numbered("serial", seen, wanted.asked))
    if found:
        rows = found.rows(
            PackageSerial.objects.select_related("part__batch", "part__order_line__order__company")
        )
        yield Group("packages", _("Packages"), tuple(map(_package, rows)), found.best)


def _package(package: PackageSerial) -> Hit:
    order = package.part.order_line.order
    line = _("Package of {mass} for {customer}, order {order}").format(
        mass=reader().weighed(package.net_lb), customer=order.company, order=order.number
    )
    return Hit(package.serial, line, reverse("package_page", args=[package.serial]))
