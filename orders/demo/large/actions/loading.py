"""Load the whole large plant into a database with nothing in it but the demo."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date

from django.conf import settings
from django.db import transaction
from django.utils.translation import gettext as _

from blendshop.accounts.models import Company, User
from blendshop.errors import BadInput, NotAllowed
from blendshop.roles import Role
from formulas.engine_bridge import load_catalogue
from formulas.models import Blend
from orders.demo import customers, plant
from orders.demo.actions import load_demo
from orders.demo.large.actions import business, making
from orders.demo.large.actions.business import Demand, People
from orders.demo.large.actions.catalogue import add_costs, add_stocks, add_terms
from orders.demo.large.actions.crews import add_crews
from orders.demo.large.actions.people import add_customers
from orders.demo.large.actions.recipes import add_blends, of_family
from orders.demo.large.actions.seasons import add_seasons
from orders.demo.large.actions.told import add_edits, add_notices, add_requests
from orders.demo.large.kinds import Kind, kind_of
from orders.demo.large.size import PlantSize
from orders.models import Quote, Tank
from orders.planning.actions.planning import plan_batches
from orders.quoting.actions.quotes import accept_quote


def load_large_plant(
    *, size: PlantSize, today: date, progress: Callable[[str], object] = lambda words: None
) -> None:
    """Load the demo and then very many variations of it, all in one transaction.

    Raises NotAllowed outside debug and BadInput where there is more than the demo.
    """
    if not settings.DEBUG:
        raise NotAllowed(_("The large plant is a demo; it loads only with BLENDSHOP_DEBUG."))
    demo = {data["name"] for data in customers.CUSTOMERS}
    if Company.objects.exclude(name__in=demo).exists():
        raise BadInput(_("Load the large plant into an empty database: this one has customers."))
    load_demo(today=today)
    with transaction.atomic():
        people = _people()
        progress("tanks")
        tanks = making.add_tanks(size, people.plant)
        kinds = _kinds(people, tanks)
        progress("stocks")
        families = add_stocks(size)
        add_costs(size, people.office, today)
        add_terms()
        progress("customers")
        places = add_customers(size)
        catalogue = load_catalogue(today)
        progress("blends")
        by_family = [of_family(catalogue, family) for family in range(families)]
        whole = [part for part in by_family if len(part.stocks) == len(by_family[0].stocks)]
        recipes = add_blends(size, kinds, whole, places, people.rep)
        demand = Demand(size, recipes, places)
        progress("quotes")
        quotes = business.add_quotes(demand, people, today)
        progress("orders")
        lines = business.add_orders(demand, people, quotes, today)
        progress("batches")
        making.add_batches(size, lines, tanks, people, today)
        progress("seasons")
        add_seasons(places, recipes, people.rep, today)
        progress("crew sheets")
        add_crews(size, lines, people.rep, today)
        progress("requests, notices, edits")
        add_requests(size, lines, today)
        add_notices(size, list(User.objects.filter(company=None).order_by("pk")), today)
        add_edits(people.office, today)


def _people() -> People:
    by_role = {
        role: User.objects.get(email=email) for email, _, roles in plant.STAFF for role in roles
    }
    return People(*(by_role[role] for role in (Role.REP, Role.PLANT, Role.OFFICE)))


def _kinds(people: People, tanks: Sequence[Tank]) -> list[Kind]:
    """The demo's blends; the one whose quote still waits is accepted and planned first."""
    found = []
    for name, *_more in customers.BLENDS:
        revision = Blend.objects.get(name=name).latest
        quote = Quote.objects.filter(lines__revision=revision).order_by("pk")[0]
        if quote.status == Quote.Status.SENT:
            order = accept_quote(quote=quote, acting_user=people.office, name="Demo-Owner")
            plan_batches(order=order, tank=tanks[-1], acting_user=people.plant)
        found.append(kind_of(revision))
    return found
