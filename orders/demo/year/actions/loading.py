"""Load the demo with the fourteen months behind it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

from django.db import transaction

from orders.demo.actions import DemoLogin, load_demo
from orders.demo.year import batches, calendar, quotes
from orders.demo.year.actions.batch_events import add_batch_events
from orders.demo.year.actions.batches import add_batches
from orders.demo.year.actions.blends import add_blends
from orders.demo.year.actions.charging import add_charges, add_outcome, sign_tanks
from orders.demo.year.actions.costs import add_costs
from orders.demo.year.actions.crew_sheets import add_crew_sheets
from orders.demo.year.actions.labels import approve_labels
from orders.demo.year.actions.orders import add_events, add_orders
from orders.demo.year.actions.people import add_people
from orders.demo.year.actions.plans import Patterns
from orders.demo.year.actions.quote_papers import issue_papers_of_the_past
from orders.demo.year.actions.quotes import add_quotes, priced
from orders.demo.year.actions.recall import add_recall
from orders.demo.year.actions.samples import add_samples
from orders.demo.year.actions.seasons import add_seasons
from orders.demo.year.actions.suppliers import add_suppliers
from orders.demo.year.actions.to_come import plan_what_is_open
from orders.models import LabelPromise, Quote
from orders.tanks.heel import EmptyTank


def load_demo_year(
    *, today: date, progress: Callable[[str], object] = lambda words: None
) -> tuple[DemoLogin, ...]:
    """Load the demo, and before its own business of today the year that led there.

    Safe to repeat, as ``load_demo`` is. A database with quotes in it gets no year: what is in its
    tanks now would have happened before.
    """
    with transaction.atomic():
        is_new = not Quote.objects.exists()
        logins = load_demo(today=today, past=lambda: _add_year(today, progress))
        if is_new:
            progress("open orders")
            plan_what_is_open()
    return logins


def _add_year(today: date, progress: Callable[[str], object]) -> None:
    start = calendar.first_day(today)
    people = add_people()
    sign_tanks(people.plant, start)
    progress("costs and blends")
    add_costs(people.office, today)
    revisions = add_blends(people, today)
    progress("prices")
    asks = quotes.asks_of(today)
    offers = priced(asks, people, revisions, today)
    progress("quotes")
    offers = add_quotes(offers, people, today)
    progress("orders")
    orders, loads = batches.loads_of(quotes.ordered(asks), today)
    placed = add_orders(orders, offers)
    progress("batches")
    promises = {row.revision_id: row for row in LabelPromise.objects.all()}
    rinsed = EmptyTank(
        "The tank is empty and rinsed.", calendar.moment(start, 6 * 60), str(people.plant)
    )
    patterns = Patterns(promises, rinsed, today)
    made = add_batches(loads, placed, revisions, patterns, people.plant, today)
    add_charges(made, people.plant)
    came_out = add_outcome(made, people.plant)
    add_batch_events(made, came_out, people)
    add_samples(made, people.plant, today)
    progress("labels")
    approvals = approve_labels(made, people.formulator)
    of_order = {
        order.number: (each.load, each.batch.number) for each in made for order in each.load.orders
    }
    add_events(placed, of_order, approvals, people)
    progress("recall")
    add_recall(made, people, today)
    progress("seasons")
    add_seasons(people, revisions, today)
    add_suppliers(people.office, today)
    progress("crew sheets")
    add_crew_sheets(people, today)
    issue_papers_of_the_past.enqueue()
