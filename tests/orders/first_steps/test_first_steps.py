"""Each step is done when it is done, and its page writes by its action."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from django.utils import timezone

from blendshop.accounts.models import User
from blendshop.errors import BadInput, NotAllowed
from blendshop.outbox.actions import deliver_overdue
from blendshop.plant_steps import PlantStep
from blendshop.roles import Role, roles_of
from orders.first_steps.actions import add_package, give_roles, set_prices
from orders.first_steps.progress import Progress, progress_for
from orders.models import (
    ClosedDay,
    FreightZone,
    Package,
    PlantProfile,
    PricePolicy,
    PriceTier,
    StateFee,
    Tank,
    Truck,
)
from orders.quoting.actions.quotes import draft_quote, send_quote
from orders.quoting.draft_prices import DraftLine
from tests.factories import (
    BaseStockFactory,
    CompanyFactory,
    ShipToFactory,
    UserFactory,
)
from tests.orders.planning.plant_cases import make_shop
from tests.orders.quoting.quote_cases import make_quotable

pytestmark = pytest.mark.django_db

PRICES = {
    "shrink_pct": "1.5",
    "batch_fee": "95",
    "blend_fee_per_gal": "0.18",
    "lab_fee_per_batch": "48",
    "effective_from": "2026-01-01",
    "tier_name": "Standard",
    "margin_pct": "24",
    "floor_pct": "14",
}
PACKAGE = {
    "name": "265 gal tote",
    "kind": "tote_sold",
    "fill_gal": "265",
    "tare_lb": "130",
    "max_gross_lb": "4400",
    "price": "145",
    "deposit": "0",
}
TANK = {
    "name": "Mix tank A",
    "capacity_gal": "600",
    "smallest_gal": "40",
    "scale_step_lb": "1",
    "scale_class": "III",
    "loads_a_day": "2",
}
ZONE = {"name": "Near", "per_load": "120", "per_package": "14", "per_gal": "0.05", "minimum": "95"}
TRUCK = {"name": "Deck", "empty_lb": "34000", "gross_limit_lb": "80000", "package_places": "20"}


def draft(rep, company):
    revision, ship_to = make_quotable(company, rep)
    line = DraftLine(revision=revision, package=Package.objects.get(), quantity=2)
    return draft_quote(
        acting_user=rep, company=company, ship_to=ship_to, lines=[line], validity_days=30, notes=""
    )


def done(user):
    return {s.step.value for s in progress_for(user, timezone.localdate()).states if s.done}


def test_an_empty_plant_has_nothing_done_and_begins_with_its_profile(office):
    progress = progress_for(office, timezone.localdate())
    assert (done(office), progress.left, progress.may_quote) == (set(), 12, False)
    assert [state.step for state in progress.states if state.is_next] == [PlantStep.PROFILE]


def test_whoever_may_not_set_the_profile_begins_with_what_they_may(rep, plant_worker):
    def following(user):
        states = progress_for(user, timezone.localdate()).states
        return [state.step for state in states if state.is_next]

    assert following(rep) == [PlantStep.CUSTOMER]
    assert following(plant_worker) == [PlantStep.SCALES]


def test_a_stock_counts_once_it_has_a_cost_today(office):
    BaseStockFactory(cost_per_lb=False)
    assert "stocks" not in done(office)
    BaseStockFactory(retired_on=timezone.localdate())
    assert "stocks" not in done(office)
    BaseStockFactory()
    assert "stocks" in done(office)


def test_a_customer_counts_with_somebody_to_mail_to_and_an_address(office):
    company = CompanyFactory()
    UserFactory(role=Role.CUSTOMER, company=company)
    assert "customer" not in done(office)
    place = ShipToFactory(company=company)
    assert "customer" in done(office)
    place.active = False
    place.save()
    assert "customer" not in done(office)


def test_both_who_charge_and_who_approve_are_needed(office, plant_worker):
    assert "people" not in done(office)
    office.groups.add(*UserFactory(role=Role.FORMULATOR).groups.all())
    assert "people" in done(office)


def test_holidays_are_typed_as_lines_and_the_week_counts_in_due_dates(office, signed_in):
    client = signed_in(office)
    week = {
        "working_weekdays": ["1", "2", "3", "4"],
        "minutes_a_day": "600",
        "minutes_a_flush": "45",
        "lead_time_working_days": "5",
        "release_working_days": "2",
    }
    sent = week | {"closed_days": "12/25/2099 Christmas\n\n2099-12-31"}
    page = "/start/days/"
    assert "no name and address yet" in client.post(page, sent).content.decode()
    PlantProfile.objects.create(pk=1, name="Alder Ford", address="1 Mill Lane")
    assert "next holiday" in client.post(page, week).content.decode()
    refused = client.post(page, week | {"closed_days": "Christmas"})
    assert refused.context["form"].errors["closed_days"] == [
        "“Christmas” does not begin with a day."
    ]
    assert "days" not in done(office)
    client.post(page, sent)
    assert "days" in done(office)
    profile = PlantProfile.objects.get()
    assert (profile.working_weekdays, profile.minutes_a_day) == ("1234", 600)
    assert list(ClosedDay.objects.values_list("day", "why")) == [
        (date(2099, 12, 25), "Christmas"),
        (date(2099, 12, 31), ""),
    ]
    assert "2099-12-25 Christmas" in client.get(page).content.decode()
    client.post(page, week)
    assert ClosedDay.objects.count() == 2


def test_a_states_fee_begins_with_what_was_shipped_and_is_marked(office, signed_in, company):
    client = signed_in(office)
    page = "/start/fees/"
    ShipToFactory(company=company, state="MD")
    shipped = client.get(page).context["form"].initial
    assert (shipped["state"], shipped["fee_per_ton"]) == ("MD", Decimal("0.25"))
    assert "fees" not in done(office)
    client.post(page, shipped | {"is_charged": "on"})
    fee = StateFee.objects.get()
    assert (fee.mark, fee.active) == ("verified", True)
    assert "fees" in done(office)
    own = {"state": "md", "fee_per_ton": "0.30", "citation": "COMAR 15.18.03.06, new"}
    client.post(page, own)
    fee.refresh_from_db()
    assert (fee.fee_per_ton, fee.mark, fee.active) == (
        Decimal("0.30"), "set by the office", False,
    )  # fmt: skip
    assert fee.history.count() == 2
    assert client.post(page, own | {"state": "1!"}).status_code == 400


def test_neither_working_days_nor_fees_keep_a_plant_from_quoting(office):
    states = progress_for(office, timezone.localdate()).states
    later = (PlantStep.DAYS, PlantStep.FEES)
    assert Progress(tuple(replace(s, done=s.step not in later) for s in states)).may_quote
    assert not Progress(tuple(replace(s, done=s.step != PlantStep.TANKS) for s in states)).may_quote


def test_a_draft_is_no_quote_yet(office, rep, company):
    quote = draft(rep, company)
    assert "quote" not in done(office)
    send_quote(quote=quote, acting_user=rep)
    assert "quote" in done(office)


def test_the_office_begins_with_the_steps_until_it_can_quote(office, signed_in):
    client = signed_in(office)
    assert client.get("/")["Location"] == "/start/"
    make_shop()
    for role in (Role.PLANT, Role.FORMULATOR):
        UserFactory(role=role)
    ShipToFactory(company=UserFactory(role=Role.CUSTOMER, company=CompanyFactory()).company)
    assert client.get("/")["Location"] == "/quotes/"
    assert "First steps" in client.get("/quotes/").content.decode()


def test_the_menu_forgets_the_steps_once_all_are_done(office, signed_in, monkeypatch):
    client = signed_in(office)
    client.get("/")
    assert "First steps" in client.get("/quotes/").content.decode()
    monkeypatch.setattr(
        "orders.first_steps.progress._DONE", dict.fromkeys(PlantStep, lambda today: True)
    )
    assert "the plant works" in client.get("/start/").content.decode()
    assert "First steps" not in client.get("/quotes/").content.decode()


def test_others_begin_where_their_work_is(rep, plant_worker, signed_in):
    assert signed_in(rep).get("/")["Location"] == "/blend/"
    assert signed_in(plant_worker).get("/")["Location"] == "/day/"


def test_the_profile_is_written_and_changed(office, signed_in):
    client = signed_in(office)
    sent = {"name": "Alder Ford", "address": "1 Mill Lane", "quote_validity_days": "30"}
    client.post("/start/plant/", sent)
    client.post("/start/plant/", sent | {"phone": "555-0100"})
    profile = PlantProfile.objects.get()
    assert (profile.name, profile.phone) == ("Alder Ford", "555-0100")
    assert profile.history.count() == 2
    assert client.post("/start/plant/", sent | {"name": ""}).status_code == 400
    assert "Alder Ford" in client.get("/start/plant/").content.decode()


def test_prices_are_a_new_row_only_when_they_change(office, signed_in):
    client = signed_in(office)
    client.post("/start/prices/", PRICES)
    client.post("/start/prices/", PRICES | {"margin_pct": "26"})
    assert PricePolicy.objects.count() == 1
    tier = PriceTier.objects.get()
    assert (tier.name, tier.margin_pct, tier.is_default) == ("Standard", Decimal(26), True)
    client.post("/start/prices/", PRICES | {"batch_fee": "99"})
    assert PricePolicy.objects.count() == 2
    assert 'value="99.00"' in client.get("/start/prices/").content.decode()


def test_a_floor_above_the_margin_is_said_at_its_field(office, signed_in):
    answer = signed_in(office).post("/start/prices/", PRICES | {"floor_pct": "30"})
    assert answer.status_code == 400
    assert answer.context["form"].errors["floor_pct"] == ["The floor must not exceed the margin."]
    assert not PricePolicy.objects.exists()


def test_a_package_gets_a_code_and_a_plural_of_its_own(office, signed_in):
    client = signed_in(office)
    client.post("/start/packages/", PACKAGE)
    client.post("/start/packages/", PACKAGE)
    assert sorted(Package.objects.values_list("code", "plural_name")) == [
        ("265-gal-tote", "265 gal totes"),
        ("265-gal-tote-2", "265 gal totes"),
    ]
    bulk = {"name": "bulk", "kind": "bulk", "fill_gal": "0", "tare_lb": "0", "price": "0"}
    client.post("/start/packages/", bulk | {"deposit": "0", "plural_name": "bulk gallons"})
    assert Package.objects.get(kind="bulk").plural_name == "bulk gallons"


def test_a_long_name_has_a_code_too_and_a_name_without_letters(office):
    for name in ("a very long name of a package", "a very long name of another", "…"):
        add_package(
            acting_user=office, name=name, kind="drum", fill_gal=Decimal(50),
            max_gross_lb=Decimal(800),
        )  # fmt: skip
    codes = list(Package.objects.order_by("pk").values_list("code", flat=True))
    assert codes == ["a-very-long-name-of", "a-very-long-name-2", "package"]


def test_a_package_that_does_not_fit_its_kind_is_refused(office, signed_in):
    answer = signed_in(office).post("/start/packages/", PACKAGE | {"deposit": "150"})
    assert answer.status_code == 400
    assert "only that, carries a deposit" in answer.content.decode()
    assert not Package.objects.exists()


def test_a_tank_is_added_and_its_contents_are_not_known(office, signed_in):
    signed_in(office).post("/start/tanks/", TANK)
    tank = Tank.objects.get()
    assert (tank.capacity_gal, tank.fine_scale, tank.ledger.count()) == (600, None, 0)
    assert "tanks" in done(office)
    assert "scales" not in done(office)


def test_a_zone_that_is_driven_to_asks_for_the_truck_next(office, signed_in):
    client = signed_in(office)
    client.post("/start/delivery/", ZONE)
    assert FreightZone.objects.get().pick_up is False
    assert "delivery" not in done(office)
    assert "deck truck" in client.get("/start/delivery/").content.decode()
    client.post("/start/delivery/", TRUCK)
    assert Truck.objects.get().kind == Truck.Kind.DECK
    assert "delivery" in done(office)
    assert "Name of the zone" in client.get("/start/delivery/").content.decode()


def test_a_plant_whose_customers_collect_needs_no_truck(office, signed_in):
    signed_in(office).post("/start/delivery/", ZONE | {"pick_up": "on"})
    assert "delivery" in done(office)


def test_somebody_new_is_mailed_a_link_and_somebody_here_takes_on_a_role(
    office, plant_worker, signed_in, mailoutbox
):
    client = signed_in(office)
    client.post(
        "/start/people/", {"name": "Fred", "email": "F@plant.example", "roles": ["formulator"]}
    )
    client.post("/start/people/", {"name": "x", "email": plant_worker.email, "roles": ["rep"]})
    deliver_overdue.call()
    links = [mail for mail in mailoutbox if "/people/password/reset/key/" in mail.body]
    assert [mail.to for mail in links] == [["f@plant.example"]]
    fred = User.objects.get(email="f@plant.example")
    assert (roles_of(fred), fred.is_staff) == ({Role.FORMULATOR}, True)
    worker = User.objects.get(pk=plant_worker.pk)
    assert (roles_of(worker), worker.name) == ({Role.PLANT, Role.REP}, "Pat Plant")


def test_the_own_roles_stay_as_they_are(office, signed_in):
    own = {"name": "x", "email": office.email, "roles": ["plant"]}
    assert signed_in(office).post("/start/people/", own).status_code == 403
    assert roles_of(User.objects.get(pk=office.pk)) == {Role.OFFICE}


def test_a_customers_address_or_one_who_left_takes_on_no_role(office, customer, rep):
    rep.is_active = False
    rep.save()
    for person in (customer, rep):
        with pytest.raises(BadInput, match="belongs to a customer, or to somebody who left"):
            give_roles(acting_user=office, name="x", email=person.email, roles=["plant"])
    with pytest.raises(BadInput, match="Choose a role"):
        give_roles(acting_user=office, name="x", email="x@plant.example", roles=["customer"])


def test_only_the_office_acts(rep):
    with pytest.raises(NotAllowed):
        give_roles(acting_user=rep, name="Rep", email=rep.email, roles=["office"])
    with pytest.raises(NotAllowed):
        set_prices(
            acting_user=rep, policy={}, effective_from=timezone.localdate(), tier_name="x",
            margin_pct=Decimal(1), floor_pct=Decimal(0),
        )  # fmt: skip


def test_no_quote_goes_out_before_the_plant_has_a_name(office, rep, company, signed_in):
    quote = draft(rep, company)
    PlantProfile.objects.all().delete()
    sent = {"do": "send", "seen_total": str(quote.total)}
    answer = signed_in(office).post(f"/quotes/{quote.number}/send/", sent)
    assert answer.status_code == 400
    text = answer.content.decode()
    assert "The plant has no name and address yet" in text
    assert 'href="/start/plant/"' in text
    quote.refresh_from_db()
    assert quote.is_draft


def test_a_refusal_tells_a_rep_who_sets_what_is_missing(rep, company, signed_in):
    make_shop()
    Tank.objects.update(active=False)
    text = signed_in(rep).get("/blend/?N_min=24").content.decode()
    assert "No blending tank is in use" in text
    assert "Who does it: office" in text
    assert 'href="/start/tanks/"' not in text
