"""One table: what happens, and who of the plant is told of it; nobody of the own action."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse

from blendshop.notices.actions import mail_the_day
from blendshop.notices.kinds import kinds_for
from blendshop.notices.models import Notice
from blendshop.notices.standing import count_unread
from blendshop.outbox.models import Mail
from blendshop.roles import STAFF, Role
from formulas.blends.actions import take_back_review
from formulas.engine.law.rules import NitrogenPerApplication
from formulas.models import BaseStock, BlendRevision, CostState
from formulas.reference.rule_packs import rule_packs
from orders.compliance.actions import tell_of_rules
from orders.cost_change.notices import tell_impact
from orders.customers.actions import add_own_ship_to, change_own_ship_to
from orders.inventory.actions.lot_quality import hold_lot, release_lot
from orders.inventory.actions.lots import transfer_lot, use_lot
from orders.inventory.tasks import tell_of_short_stock
from orders.labels.tasks import tell_of_waiting_labels
from orders.models import (
    Batch,
    CostChange,
    CostImpact,
    Quote,
    QuoteImpact,
    QuoteMargin,
    RulesOnFile,
    SeasonProgram,
    StandingOrder,
    StandingOrderEvent,
)
from orders.ordering.actions import ask_about
from orders.ordering.notices import (
    tell_cancelled_by_customer,
    tell_ordered,
    tell_shipped,
    tell_unreviewed,
)
from orders.production.actions.go_ahead import let_go_ahead
from orders.production.notices import tell_released
from orders.questions.actions import ask
from orders.quoting.actions.quotes import decline_quote, send_back
from orders.quoting.links import quote_token
from orders.quoting.notices import (
    EXPIRES_SOON,
    tell_accepted,
    tell_approval_asked,
    tell_expiring,
)
from orders.quoting.tasks import tell_of_expiring_quotes
from orders.repricing.notices import tell_below_floor
from orders.season.notices import tell_reserved
from tests.factories import UserFactory, today
from tests.orders.inventory.stock_cases import make_lot
from tests.orders.planning.plant_cases import accepted_order
from tests.orders.production.charging_cases import read_density

#: Below a floor of 20 % by new costs alone.
_FALLEN = {
    "margin_then": 500,
    "margin_now": 100,
    "margin_pct_then": Decimal(25),
    "margin_pct_now": Decimal(5),
    "floor_pct": Decimal(20),
    "is_below_floor": True,
}


@pytest.fixture
def people(rep, plant_worker, formulator, office, customer):
    """By the name a case knows them by; a second rep and a second blender have nothing to do."""
    return {
        "rep": rep,
        "plant": plant_worker,
        "formulator": formulator,
        "office": office,
        "customer": customer,
        "other rep": UserFactory(role=Role.REP),
        "other plant": UserFactory(role=Role.PLANT),
    }


@pytest.fixture
def order(shop, rep, company):
    """Two totes by a quote that was accepted."""
    return accepted_order(rep, company, quantity=2)


def with_quote(order, status):
    Quote.objects.filter(pk=order.quote_id).update(status=status)
    return Quote.objects.get(pk=order.quote_id)


def opened(order, _batch, _people):
    page = reverse("quote_public", args=[quote_token(with_quote(order, "sent"))])
    for _again in range(2):
        assert Client().get(page).status_code == 200


def accepted(order, _batch, people):
    tell_accepted(order.quote, order, by=people["customer"])


def recorded_by_the_rep(order, _batch, people):
    tell_accepted(order.quote, order, by=people["rep"])


def declined(order, _batch, people):
    decline_quote(quote=with_quote(order, "sent"), acting_user=people["customer"], name="Casey")


def approval_asked(order, _batch, people):
    tell_approval_asked(with_quote(order, "awaiting_approval"), "Large.", by=people["rep"])


def sent_back(order, _batch, people):
    quote = with_quote(order, "awaiting_approval")
    send_back(quote=quote, acting_user=people["office"], why="Too low.")


def requested(order, _batch, people):
    order.status, order.placed_by = "requested", people["customer"]
    tell_ordered(order, by=people["customer"])


def ordered(order, _batch, people):
    tell_ordered(order, by=people["customer"])


def cancelled(order, _batch, people):
    tell_cancelled_by_customer(order, "Sold the route.", by=people["customer"])


def asked(order, _batch, people):
    ask_about(order=order, acting_user=people["customer"], text="Can it come earlier?")


def asked_about_no_order(_order, _batch, people):
    ask(acting_user=people["customer"], text="Do you take totes back?")


def named_a_place(order, _batch, people):
    place = {"label": "Barn", "street": "5 Fescue Road", "city": "Amberly", "state": "MD"}
    add_own_ship_to(acting_user=people["customer"], **place)


def changed_a_place(order, _batch, people):
    change_own_ship_to(acting_user=people["customer"], ship_to=order.ship_to, street="9 New Street")


def not_reviewed(order, batch, people):
    """As an accepted quote leaves it, of a recipe that no review stands of."""
    recipe = BlendRevision.objects.get(pk=batch.load_plan.revision_id)
    take_back_review(acting_user=people["formulator"], revision=recipe, note="Salts out.")
    for _again in range(2):
        tell_unreviewed(order, by=None)


def shipped(order, _batch, people):
    tell_shipped(order, by=people["plant"])


def held(_order, batch, people):
    Batch.objects.filter(pk=batch.pk).update(status="made")
    batch.refresh_from_db()
    read_density(batch, people["plant"], appearance="crystals")


def released(order, batch, people):
    tell_released(batch, [order], by=people["plant"])


def _lots(batch, people):
    """One that something of the order was charged from, and one that nothing was."""
    stock = BaseStock.objects.get(code="UAN")
    used, idle = (make_lot(stock, people["plant"]) for _each in range(2))
    use_lot(
        lot=used, mass_lb=Decimal(100), batch=batch, acting_user=people["plant"], key="who-is-told"
    )
    return used, idle


def lot_held(order, batch, people):
    used, _idle = _lots(batch, people)
    part = transfer_lot(
        lot=used, mass_lb=Decimal(50), location="B 2", acting_user=people["plant"], key="split"
    )
    for _again in range(2):
        hold_lot(lot=used, why="Crystals", acting_user=people["plant"])
    notice = people["rep"].notices.get()
    said = f"{used.code}, {used.stock.name}, is held: Crystals. With it {part.code}."
    assert notice.text == f"{said} It stops {order.number} {order.company}."
    assert notice.link == reverse("lot_detail", args=[used.code])


def idle_lot_held(_order, batch, people):
    hold_lot(lot=_lots(batch, people)[1], why="Crystals", acting_user=people["plant"])


def lot_released(_order, batch, people):
    used, _idle = _lots(batch, people)
    hold_lot(lot=used, why="Crystals", acting_user=people["plant"])
    release_lot(lot=used, why="Dissolved again.", acting_user=people["formulator"])


def out_of_line(_order, _batch, people):
    figure = BaseStock.objects.get(code="UAN").analysis_figures.order_by("pk")[0]
    make_lot(figure.stock, people["plant"], figures={figure.key: float(figure.pct) * 1.3})


def cost_impact(order, _batch, people):
    change = CostChange.objects.create(name="Spring letter", created_by=people["office"])
    impact = CostImpact.objects.create(change=change, version=1, state="")
    QuoteImpact.objects.create(impact=impact, quote=order.quote, **_FALLEN)
    for _again in range(2):
        tell_impact(impact)


def below_floor(order, _batch, _people):
    state = CostState.objects.create(day=today(), catalogue="test")
    QuoteMargin.objects.create(quote=order.quote, state=state, **_FALLEN)
    for _again in range(2):
        tell_below_floor(Quote.objects.all())


def expiring(order, _batch, _people):
    quote = with_quote(order, "sent")
    Quote.objects.filter(pk=quote.pk).update(valid_until=today() + EXPIRES_SOON)
    tell_expiring(today() - timedelta(days=1))
    assert not Notice.objects.exists()
    for _again in range(2):
        tell_of_expiring_quotes.call()


def short(order, _batch, people):
    for stock in BaseStock.objects.exclude(code="WATER"):
        make_lot(stock, people["plant"], 1 if stock.code == "UAN" else 40_000)
    Notice.objects.all().delete()
    for _again in range(2):
        tell_of_short_stock.call()


def label_waits(_order, _batch, _people):
    for _again in range(2):
        tell_of_waiting_labels.call()


def rule_changed(order, _batch, people):
    """A figure, as if the plant had been told of another one; a day of reading is no change."""
    packs = [pack for pack in rule_packs() if pack.state == order.ship_to.state]
    day = max(pack.date_checked for pack in packs)
    tell_of_rules(day)
    tell_of_rules(day + timedelta(days=1))
    assert not Notice.objects.exists()  # first seen, then only looked at again
    rule = next(rule for rule in packs[0].rules if isinstance(rule, NitrogenPerApplication))
    row = RulesOnFile.objects.get(code=packs[0].code)
    now = rule.basis.status.value
    was = {"active": "unverified", "unverified": "active"}[now]
    row.said[rule.basis.code] |= {"largest_total_lb": 0.1, "status": was}
    row.save()
    for _again in range(2):
        tell_of_rules(day)
    told = people["office"].notices.get().text
    assert f"nitrogen at a time, most in all: 0.1 → {rule.largest_total_lb:g} lb" in told
    assert f"standing: {was} → {now}" in told


def rules_read_long_ago(order, _batch, _people):
    checked = min(pack.date_checked for pack in rule_packs() if pack.state == order.ship_to.state)
    tell_of_rules(checked + timedelta(days=365))
    assert not Notice.objects.filter(kind="rules_old").exists()
    for _again in range(2):
        tell_of_rules(checked + timedelta(days=366))


#: what happens: (kind, who has it on the page, who of them is mailed without having chosen)
def season_reserved(order, _batch, people):
    customer, line = people["customer"], order.lines.get()
    program = SeasonProgram.objects.create(
        company=order.company,
        name="Lawns",
        year=today().year,
        ship_to=order.ship_to,
        package=line.package,
        made_by=customer,
    )
    standing = StandingOrder.objects.create(
        number="SO-1",
        company=order.company,
        ship_to=order.ship_to,
        year=program.year,
        made_by=customer,
    )
    StandingOrderEvent.objects.create(standing_order=standing, who="Casey", to_status="reserved")
    tell_reserved(standing, program, by=customer)


def made_without_review(_order, batch, people):
    recipe = BlendRevision.objects.get(pk=batch.load_plan.revision_id)
    take_back_review(acting_user=people["formulator"], revision=recipe, note="Salts out.")
    let_go_ahead(batch=batch, acting_user=people["office"], why="Jar test is fine.")


TABLE = {
    opened: ("quote_opened", {"rep"}, set()),
    accepted: ("quote_accepted", {"rep", "office"}, {"rep", "office"}),
    recorded_by_the_rep: ("quote_accepted", {"office"}, {"office"}),
    declined: ("quote_declined", {"rep"}, {"rep"}),
    approval_asked: ("price_approval", {"office"}, {"office"}),
    sent_back: ("price_answered", {"rep"}, {"rep"}),
    requested: ("request_waits", {"rep", "office", "formulator"}, {"rep", "office"}),
    ordered: ("customer_ordered", {"rep", "office"}, {"rep", "office"}),
    cancelled: ("customer_ordered", {"rep", "office"}, {"rep", "office"}),
    asked: ("customer_asked", {"rep", "office"}, {"rep", "office"}),
    asked_about_no_order: ("customer_question", {"rep", "office"}, {"rep", "office"}),
    named_a_place: ("customer_place", {"rep", "office"}, {"rep", "office"}),
    changed_a_place: ("customer_place", {"rep", "office"}, {"rep", "office"}),
    not_reviewed: ("recipe_unreviewed", {"formulator"}, set()),
    shipped: ("order_shipped", {"rep"}, set()),
    held: ("batch_held", {"other plant", "formulator"}, set()),
    released: ("batch_released", {"other plant", "rep"}, set()),
    made_without_review: (
        "batch_go_ahead",
        {"plant", "other plant", "formulator"},
        {"formulator"},
    ),
    lot_held: ("lot_held", {"other plant", "formulator", "rep"}, set()),
    idle_lot_held: ("lot_held", {"other plant", "formulator"}, set()),
    lot_released: ("lot_released", {"plant", "other plant", "rep"}, set()),
    out_of_line: ("out_of_line", {"formulator"}, set()),
    cost_impact: ("cost_impact", {"rep", "office"}, set()),
    below_floor: ("below_floor", {"rep", "office"}, set()),
    expiring: ("quote_expiring", {"rep"}, set()),
    short: ("stock_short", {"plant", "other plant", "office"}, set()),
    rule_changed: ("rules_anew", {"formulator", "office"}, set()),
    rules_read_long_ago: ("rules_old", {"formulator", "office"}, set()),
    season_reserved: ("season_reserved", {"rep", "office"}, set()),
    label_waits: ("label_approval", {"formulator"}, set()),
}


@pytest.mark.parametrize("happens", TABLE, ids=lambda each: each.__name__)
def test_who_is_told(happens, order, batch, people):
    kind, told, mailed = TABLE[happens]
    Notice.objects.all().delete()
    Mail.objects.all().delete()
    happens(order, batch, people)
    names = {person.pk: name for name, person in people.items()}
    found = Notice.objects.filter(kind=kind)
    assert sorted(names[each.person_id] for each in found) == sorted(told)
    addresses = {person.email: name for name, person in people.items()}
    to_staff = [addresses[mail.to] for mail in Mail.objects.exclude(to=people["customer"].email)]
    assert sorted(to_staff) == sorted(mailed)
    site = settings.SITE_URL
    for notice in found:  # what it is about opens for whoever is told
        client = Client()
        client.force_login(notice.person)
        assert client.get(notice.link).status_code == 200
        assert notice.text
        assert count_unread(notice.person)  # on the bell
        for mail in Mail.objects.filter(to=notice.person.email):
            assert site + notice.link in mail.text
    # Whoever chose the daily mail reads the same words and finds the same page.
    Notice.objects.update(waits_for_daily=True)
    Mail.objects.all().delete()
    mail_the_day()
    for notice in found:
        (mail,) = Mail.objects.filter(to=notice.person.email)
        assert f"{notice.text}\n{site}{notice.link}" in mail.text


def test_the_table_has_every_kind():
    ours = {kind.name for kind in kinds_for(STAFF) if not kind.name.startswith("test_")}
    assert ours == {kind for kind, *_told in TABLE.values()}
