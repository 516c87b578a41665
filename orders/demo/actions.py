"""Put the invented plant of ``orders.demo`` into the database, once."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cache
from typing import Any

from django.conf import settings
from django.contrib.auth.hashers import make_password
from django.contrib.auth.models import Group
from django.db import transaction

from blendshop.accounts.models import Company, User
from blendshop.errors import NotAllowed
from blendshop.outbox.actions import mails_kept_back
from blendshop.roles import Role
from formulas.blends.actions import review_recipe, save_blend, save_draft_wish
from formulas.engine_bridge import load_catalogue
from formulas.models import BaseStock, Blend, DraftWish
from formulas.reference import inspection_fees
from formulas.stocks.actions.shipped import load_base_stocks, load_demo_costs
from formulas.stocks.actions.system_user import system_user
from orders.customers.actions import set_limits, show_recipes
from orders.demo import customers, lots, plant
from orders.demo.shift import make_and_release, sign_the_day
from orders.inventory.actions.lots import Delivery, receive_lot
from orders.labels.actions import approve_label
from orders.labels.standing import label_state
from orders.models import (
    Batch,
    BatchPart,
    CustomerTerms,
    FreightZone,
    Order,
    OrderLimits,
    Package,
    PlantProfile,
    PricePolicy,
    PriceTier,
    QuantityBreak,
    Quote,
    ShipTo,
    StateFee,
    Tank,
    Truck,
)
from orders.planning.actions.planning import plan_batches
from orders.quoting.actions.quotes import accept_quote, draft_quote, send_quote
from orders.quoting.draft_prices import DraftLine
from orders.tanks.actions.looking import Found, Looked, look_and_sign


@dataclass(frozen=True, slots=True)
class DemoLogin:
    """Somebody to sign in as; every demo person has the password ``plant.PASSWORD``."""

    email: str
    name: str
    role: str


def load_demo(
    *,
    acting_user: User | None = None,
    today: date,
    past: Callable[[], object] = lambda: None,
) -> tuple[DemoLogin, ...]:
    """Load what is missing of the demo and return its logins; safe to repeat.

    ``past`` writes what happened before its own business of today, where there is none yet.
    Raises NotAllowed outside debug: the demo's passwords are printed on the screen.
    """
    if not settings.DEBUG:
        raise NotAllowed("The demo has public passwords; it loads only with BLENDSHOP_DEBUG.")
    loader = acting_user or system_user()
    with transaction.atomic(), mails_kept_back():
        staff = _staff()
        _policies()
        load_base_stocks(acting_user=loader)
        load_demo_costs(acting_user=loader, effective_from=plant.POLICY["effective_from"])
        logins = [DemoLogin(p.email, p.name, role) for role, p in staff.items()]
        for data in customers.CUSTOMERS:
            logins += _customer(data)
        _blends(staff[Role.REP], today)
        _gate(staff)
        is_new = not Quote.objects.exists()
        if is_new:
            past()
        _sign_tanks(staff[Role.PLANT])
        _lots(staff[Role.PLANT], today)
        if is_new:
            _business(staff, today)
    return tuple(logins)


def _sign_tanks(worker: User) -> None:
    """The invented plant has looked into its tanks; a tank that has made something is left."""
    for tank in Tank.objects.filter(name__in=[tank["name"] for tank in plant.TANKS]):
        made = Batch.objects.filter(tank=tank).exclude(status=Batch.Status.PLANNED)
        if not tank.ledger.exists() and not made.exists():
            look_and_sign(
                tank=tank,
                looked=Looked(Found.EMPTY, note="Demo data."),
                key=f"demo-tank-{tank.pk}",
                acting_user=worker,
            )


def _person(email: str, name: str, role: Role, company: Company | None = None) -> User:
    person = User.objects.filter(email=email).first()
    if person is None:
        may_see_back_office = role in {Role.OFFICE, Role.FORMULATOR}
        person = User.objects.create(
            email=email,
            password=_hashed(),
            name=name,
            company=company,
            is_staff=may_see_back_office,
            is_owner=company is not None and not company.people.exists(),
        )
        person.groups.add(Group.objects.get(name=role.value))
    return person


@cache
def _hashed() -> str:
    """Of the one password, once: hashing takes its time on purpose."""
    return make_password(plant.PASSWORD)


def _staff() -> dict[Role, User]:
    staff = {
        role: _person(email, name, role) for email, name, roles in plant.STAFF for role in roles
    }
    rep = staff[Role.REP]
    if not rep.phone:
        rep.phone = plant.REP_PHONE
        rep.save(update_fields=["phone"])
    return staff


def _policies() -> None:
    if not PlantProfile.objects.exists():
        PlantProfile.objects.create(**plant.PLANT)
    if not PricePolicy.objects.exists():
        PricePolicy.objects.create(**plant.POLICY)
    for name, margin, floor, default in plant.TIERS:
        figures = {"margin_pct": margin, "floor_pct": floor, "is_default": default}
        PriceTier.objects.get_or_create(name=name, defaults=figures)
    for above_gal, points in plant.BREAKS:
        QuantityBreak.objects.get_or_create(
            above_gal=above_gal, defaults={"margin_points_off": points}
        )
    for package in plant.PACKAGES:
        Package.objects.get_or_create(code=package["code"], defaults=package)
    for name, load, each, gal, minimum, pick_up in plant.ZONES:
        rates = {
            "per_load": Decimal(load),
            "per_package": Decimal(each),
            "per_gal": Decimal(gal),
            "minimum": Decimal(minimum),
            "pick_up": pick_up,
        }
        FreightZone.objects.get_or_create(name=name, defaults=rates)
    for truck in plant.TRUCKS:
        Truck.objects.get_or_create(name=truck["name"], defaults=truck)
    for tank in plant.TANKS:
        Tank.objects.get_or_create(name=tank["name"], defaults=tank)
    for fee in inspection_fees():
        facts = {
            "fee_per_ton": fee.fee_per_ton,
            "citation": fee.source.text,
            "mark": fee.source.mark,
        }
        StateFee.objects.get_or_create(state=fee.state, defaults=facts)


#: Name, company, note and wish of a saved blend or a draft wish.
_Saved = tuple[str, str | None, str, dict[str, Any]]


def _customer(data: Mapping[str, Any]) -> list[DemoLogin]:
    company, _ = Company.objects.get_or_create(name=data["name"])
    tier = PriceTier.objects.get(name=data["tier"])
    CustomerTerms.objects.get_or_create(company=company, defaults={"tier": tier})
    for address in data["ship_tos"]:
        zone = FreightZone.objects.get(name=address["zone"])
        ShipTo.objects.get_or_create(
            company=company, label=address["label"], defaults={**address, "zone": zone}
        )
    people = [_person(email, name, Role.CUSTOMER, company) for email, name in data["people"]]
    return [DemoLogin(person.email, person.name, f"customer, {company.name}") for person in people]


def _blends(rep: User, today: date) -> None:
    catalogue = load_catalogue(today)
    companies = {company.name: company for company in Company.objects.all()}
    jobs: tuple[
        tuple[Callable[..., object], type[Blend] | type[DraftWish], Sequence[_Saved]], ...
    ] = (
        (save_blend, Blend, customers.BLENDS),
        (save_draft_wish, DraftWish, customers.DRAFTS),
    )
    for action, model, rows in jobs:
        for name, company, note, wish in rows:
            if not model.objects.filter(name=name).exists():
                action(
                    acting_user=rep,
                    name=name,
                    company=companies.get(company) if company else None,
                    wish=wish,
                    note=note,
                    today=today,
                    catalogue=catalogue,
                )


def _gate(staff: dict[Role, User]) -> None:
    """What customers order by themselves: two recipes reviewed, one customer's limits agreed."""
    for name in customers.REVIEWED:
        (blend,) = Blend.objects.filter(name=name)[:1]
        review_recipe(
            acting_user=staff[Role.FORMULATOR], revision=blend.latest, note="Demo review."
        )
    for data in customers.CUSTOMERS:
        company = Company.objects.get(name=data["name"])
        if OrderLimits.objects.filter(company=company).exists():
            continue
        if data["limits_confirmed"]:
            set_limits(acting_user=staff[Role.OFFICE], company=company, **data["limits"])
        else:
            OrderLimits.objects.create(company=company, **data["limits"])
        show_recipes(
            acting_user=staff[Role.OFFICE], company=company, sees_recipe=data["sees_recipe"]
        )


def _lots(worker: User, today: date) -> None:
    for stock in BaseStock.objects.active().filter(lots__isnull=True):
        delivery = Delivery(
            stock=stock,
            mass_lb=lots.RECEIVED_LB.get(stock.code, lots.USUAL_LB),
            received_on=today,
            supplier=lots.SUPPLIER,
            supplier_lot=f"demo-{stock.code.lower()}",
            location="demo tank farm",
        )
        receive_lot(
            delivery=delivery,
            acting_user=worker,
            key=f"demo-{stock.code}",
            again={"mass_lb": delivery.mass_lb},
        )


def _business(staff: dict[Role, User], today: date) -> None:
    """A quote waiting for its answer, a load with its label approved and made, one that waits."""
    rep = staff[Role.REP]
    tote = Package.objects.get(code="tote-265")
    tanks = [Tank.objects.get(name=tank["name"]) for tank in plant.TANKS]
    budget, summer, humic = (Blend.objects.get(name=name) for name, *_more in customers.BLENDS[:3])
    lawns, turf = (Company.objects.get(name=data["name"]) for data in customers.CUSTOMERS)
    for company, blend, quantity, tank, is_approved in (
        (lawns, summer, 4, None, False),
        (turf, humic, 2, tanks[1], False),
        (lawns, budget, 1, tanks[0], True),
    ):
        quote = draft_quote(
            acting_user=rep,
            company=company,
            ship_to=company.ship_tos.order_by("pk")[0],
            lines=[
                DraftLine(
                    revision=blend.latest,
                    package=tote,
                    quantity=quantity,
                    n_rate_lb_per_1000sqft=0.7,
                )
            ],
            validity_days=30,
            notes="Demo quote.",
        )
        send_quote(quote=quote, acting_user=rep)
        quote.refresh_from_db()
        if tank is None:
            continue
        owner = User.objects.filter(company=company).order_by("pk")[0]
        order = accept_quote(quote=quote, acting_user=None, name=owner.name)
        (batch,) = plan_batches(order=order, tank=tank, acting_user=staff[Role.PLANT])
        if is_approved:
            _approve_labels(order, staff[Role.FORMULATOR])
            make_and_release(batch, staff[Role.PLANT])
            sign_the_day(staff, batch)


def _approve_labels(order: Order, formulator: User) -> None:
    for part in BatchPart.objects.filter(order_line__order=order).with_label():
        state = label_state(part)
        approve_label(
            part=part,
            acting_user=formulator,
            seen=state.now.fingerprint,
            confirmed=tuple(state.confirms),
            note="Demo data: nobody read the state's text for it.",
        )
