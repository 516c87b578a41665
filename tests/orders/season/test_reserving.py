"""Reserving a season and releasing its rounds: at the price of the day, through the one gate."""

from decimal import Decimal

import pytest
from django.urls import reverse

from blendshop.errors import ChangedMeanwhile, IllegalMove, NotAllowed
from blendshop.money import money
from blendshop.notices.models import Notice
from orders.inventory.levels import open_needs
from orders.inventory.reserved_rounds import reserved_stocks
from orders.models import Order, SeasonProgram, StandingOrder, StandingRound
from orders.ordering.actions import cancel_own_order
from orders.reordering.actions import SaidBeside
from orders.season.access import get_round_for
from orders.season.actions.programs import copy_program, save_rows
from orders.season.actions.reserving import give_back, offered_round, release, reserve
from orders.season.page import season_page
from tests.factories import today
from tests.orders.inventory.stock_cases import make_lot
from tests.orders.ordering.gate_cases import agree_limits, review
from tests.orders.reordering.reorder_cases import new_cost
from tests.orders.season.conftest import YEAR


def reserved(program, user):
    seen = season_page(program, today(), changes=False).figures.shown
    return reserve(acting_user=user, program=program, seen=seen)


def released(program, user, name="Spring", once="one", **changes):
    row = get_round_for(user, program.rounds.get(name=name).pk)
    offer = changes.pop("offer", None) or offered_round(row)
    return release(
        acting_user=user,
        row=row,
        offer=offer,
        seen_digest=offer.digest,
        once=once,
        terms=SaidBeside(),
    )


@pytest.fixture
def free_to_order(revision, company):
    review(revision)
    agree_limits(company)


def test_reserving_makes_a_standing_order_of_the_totes_that_were_shown(program, customer, rep):
    standing = reserved(program, customer)
    assert standing.number.startswith("SO-")
    rounds = list(standing.rounds.values_list("name", "quantity", "wanted_on"))
    assert [(name, quantity) for name, quantity, _ in rounds] == [
        ("Spring", 2), ("Summer", 3), ("Fall", 1)
    ]  # fmt: skip
    assert StandingRound.objects.waiting().count() == 3
    assert Notice.objects.filter(person=rep, text__contains=standing.number).count() == 1
    assert standing.events.get().to_status == "reserved"


def test_what_changed_since_it_was_shown_is_not_reserved(program, customer, properties):
    seen = season_page(program, today(), changes=False).figures.shown
    properties[0].acres = 60
    properties[0].save()
    with pytest.raises(ChangedMeanwhile):
        reserve(acting_user=customer, program=program, seen=seen)
    assert not StandingOrder.objects.exists()


def test_a_reserved_season_is_changed_only_after_it_is_given_back(program, customer):
    reserved(program, customer)
    program.refresh_from_db()
    row = program.rounds.get(name="Fall")
    rates = {row.pk: {"n_rate_lb_per_1000sqft": 0.6}}
    with pytest.raises(IllegalMove, match="take the reservation back"):
        save_rows(acting_user=customer, program=program, rows=rates)
    give_back(acting_user=customer, program=program)
    assert not StandingRound.objects.waiting().exists()
    save_rows(acting_user=customer, program=program, rows=rates)
    assert reserved(SeasonProgram.objects.get(), customer).rounds.count() == 3


@pytest.mark.usefixtures("free_to_order")
def test_a_round_is_released_at_the_price_of_the_day_and_says_what_changed(program, customer):
    reserved(program, customer)
    new_cost("TRZ", "0.4600")
    offer = offered_round(get_round_for(customer, program.rounds.get(name="Spring").pk))
    (line,) = offer.lines
    assert "up from" in line.price_change
    assert "mainly urea-triazone solution" in line.price_change
    order = released(program, customer, offer=offer)
    assert order.status == Order.Status.OPEN
    assert order.total == offer.price.total
    line = order.lines.get()
    assert (line.quantity, line.n_rate_lb_per_1000sqft) == (2, 0.7)
    assert StandingRound.objects.get(name="Spring").order == order
    assert StandingRound.objects.waiting().count() == 2


@pytest.mark.usefixtures("free_to_order")
def test_a_released_round_stands_at_its_orders_price_and_open_ones_at_todays(
    program, customer, rep, signed_in
):
    reserved(program, customer)
    order = released(program, customer)
    new_cost("TRZ", "0.4600")
    page = season_page(SeasonProgram.objects.get(), today())
    spring, summer, fall = (each.figures for each in page.rounds)
    assert spring.cost == order.lines.get().line_total
    assert spring.cost_per_acre == money(
        Decimal(str(spring.gal)) * order.lines.get().price_per_gal / 40
    )
    for each in (summer, fall):
        assert each.cost == each.price.price_total
    assert summer.price.price_per_gal > order.lines.get().price_per_gal
    assert page.figures.cost == spring.cost + summer.cost + fall.cost
    for user in (customer, rep):
        html = signed_in(user).get(reverse("season_program", args=[program.pk])).text
        assert f"${spring.cost:,.2f} in all, as ordered" in html
        assert f"${page.figures.cost:,.2f} in all" in html
    # As its customer changed it since: half the totes, at the price of that order.
    order.lines.update(quantity=1, volume_gal=265, line_total=Decimal("1000.00"))
    again = season_page(SeasonProgram.objects.get(), today()).figures.rounds[0]
    assert (again.packages, again.cost) == (1, Decimal("1000.00"))


@pytest.mark.usefixtures("free_to_order")
def test_the_second_tap_and_the_second_person_order_nothing_more(program, customer, rep):
    reserved(program, customer)
    row = get_round_for(customer, program.rounds.get(name="Spring").pk)
    offer = offered_round(row)
    order = released(program, customer, offer=offer)
    assert released(program, customer, offer=offer) == order
    with pytest.raises((ChangedMeanwhile, IllegalMove)):
        released(program, rep, once="two", offer=offer)
    assert Order.objects.count() == 1


def test_a_recipe_nobody_reviewed_makes_a_request_also_for_the_rep(program, rep):
    reserved(program, rep)
    order = released(program, rep)
    assert order.status == Order.Status.REQUESTED
    assert "not reviewed" in order.held_because[0]


@pytest.mark.usefixtures("free_to_order")
def test_acres_are_changed_after_what_waits_is_given_back_and_what_is_released_stays(
    program, customer, properties, signed_in
):
    standing = reserved(program, customer)
    order = released(program, customer)
    client = signed_in(customer)
    acres = reverse("season_property", args=[properties[0].pk])
    typed = {"name": "Route A", "acres": "65", "state": "MD", "active": "on"}
    refused = client.post(acres, typed)
    assert refused.status_code == 400
    assert f"Totes are reserved for these acres: Lawns {YEAR} ({standing})" in refused.text
    assert client.post(acres, {**typed, "acres": "25", "note": "Gate left."}).status_code == 302

    give_back(acting_user=customer, program=SeasonProgram.objects.get())
    assert not StandingRound.objects.waiting().exists()
    with pytest.raises(IllegalMove, match="not reserved"):
        released(program, customer, name="Summer", once="two")
    assert client.post(acres, typed).status_code == 302
    page = client.get(reverse("season_program", args=[program.pk]))
    shown = page.context["page"]
    assert shown.rounds[0].figures.packages == 2  # as ordered, not for 80 acres
    assert shown.to_reserve == shown.figures.packages - 2
    spring = program.rounds.get(name="Spring")
    assert f'name="rate_{spring.pk}"' not in page.text
    with pytest.raises(IllegalMove, match=f"released already, as {order}"):
        save_rows(acting_user=customer, program=program, rows={spring.pk: {"name": "Early"}})
    again = reserved(SeasonProgram.objects.get(), customer)
    assert [each.name for each in again.rounds.all()] == ["Summer", "Fall"]
    assert again.rounds.get(name="Summer").quantity > 3


@pytest.mark.usefixtures("free_to_order")
def test_a_round_whose_order_was_cancelled_is_released_again(
    program, customer, rep, revision, signed_in
):
    reserved(program, customer)
    wanted = {each.code: each.lb for each in reserved_stocks()}
    order = released(program, customer)
    cancel_own_order(order=order, acting_user=customer)
    # Counted once: what the order reserved is free again, and the round waits.
    assert {each.code: each.lb for each in reserved_stocks()} == pytest.approx(wanted)
    assert not open_needs()
    html = " ".join(
        signed_in(customer).get(reverse("season_program", args=[program.pk])).text.split()
    )
    assert f"{order} was cancelled; it waits again." in html
    assert "3 rounds wait" in signed_in(rep).get(reverse("season_list")).text
    second = released(program, customer, once="two")
    assert second != order
    assert StandingRound.objects.get(name="Spring").order == second
    assert StandingRound.objects.waiting().count() == 2
    # The two together are what was reserved: two of the six totes are in the open order.
    (first,) = [needs[0] for needs in open_needs().values() if needs][:1]
    assert first.order_number == second.number
    code = revision.lines.exclude(stock__code="WATER").first().stock.code
    left = next(each.lb for each in reserved_stocks() if each.code == code)
    rounds = StandingRound.objects.all()
    weighs = {each.name: each.mass_lb for each in rounds}
    of_two = wanted[code] * weighs["Spring"] / sum(weighs.values())
    assert left == pytest.approx(wanted[code] - of_two)


def test_who_may_only_look_reserves_and_releases_nothing(program, customer, stranger, rep):
    customer.may_order = False
    customer.save()
    with pytest.raises(NotAllowed):
        reserved(program, customer)
    reserved(program, rep)
    with pytest.raises(NotAllowed):
        released(program, customer)
    with pytest.raises(NotAllowed):
        give_back(acting_user=stranger, program=program)


def test_a_copy_is_a_year_later_without_a_reservation(program, customer, properties):
    reserved(program, customer)
    properties[1].active = False
    properties[1].save()
    made = copy_program(acting_user=customer, program=program)
    assert (made.year, made.copied_from, made.standing_order) == (YEAR + 1, program, None)
    assert [each.name for each in made.properties.all()] == ["Route A"]
    assert [each.on.year for each in made.rounds.all()] == [YEAR + 1] * 3
    assert [each.on.month for each in made.rounds.all()] == [4, 6, 9]


@pytest.mark.usefixtures("free_to_order")
def test_a_customer_plans_reserves_and_releases_on_the_pages(
    program, customer, signed_in, django_assert_max_num_queries
):
    client = signed_in(customer)
    page = reverse("season_program", args=[program.pk])
    html = client.get(page).content.decode()
    assert "6 × 265 gal totes" in " ".join(html.split())
    rows = {
        f"{name}_{each.pk}": value
        for each in program.rounds.all()
        for name, value in (("name", each.name), ("on", each.on.isoformat()), ("rate", "0.4"))
    }
    assert client.post(reverse("season_rows", args=[program.pk]), rows).status_code == 302
    assert set(program.rounds.values_list("n_rate_lb_per_1000sqft", flat=True)) == {0.4}
    wrong = client.post(
        reverse("season_rows", args=[program.pk]),
        {key: value.replace(str(YEAR), str(YEAR + 1)) for key, value in rows.items()},
    )
    assert wrong.status_code == 400
    assert "This day is not in" in wrong.content.decode()
    seen = client.get(page).content.decode().split('name="seen" value="', 1)[1].split('"', 1)[0]
    assert client.post(reverse("season_reserve", args=[program.pk]), {"seen": seen}).url == page
    url = reverse("season_release", args=[program.rounds.get(name="Spring").pk])
    shown = client.get(url).content.decode()
    assert "Price per gal unchanged" in shown
    fields = {
        name: shown.split(f'name="{name}" value="', 1)[1].split('"', 1)[0]
        for name in ("seen", "once", "wanted_on")
    }
    answer = client.post(url, fields)
    order = Order.objects.get()
    assert answer.url == reverse("order_detail", args=[order.number])
    assert order.wanted_on == program.rounds.get(name="Spring").on
    assert client.post(url, fields).url == answer.url
    # The page of a season asks no more of the database for more properties of the same kind.
    with django_assert_max_num_queries(45):
        client.get(page)


def test_the_house_finds_a_customer_and_plans_for_it(program, rep, revision, signed_in):
    client = signed_in(rep)
    html = client.get(reverse("season_list"), {"q": "brook"}).content.decode()
    assert reverse("season_customer", args=[program.company_id]) in html
    new = reverse("season_property_new", args=[program.company_id])
    typed = {"name": "Route C", "acres": "12.5", "state": "md", "active": "on"}
    assert client.post(new, typed).status_code == 302
    again = client.post(new, typed)
    assert again.status_code == 400
    assert "already a property of this name" in again.content.decode()
    added = client.post(
        reverse("season_round_new", args=[program.pk]),
        {"name": "Late", "on": f"{YEAR}-10-20", "n_rate_lb_per_1000sqft": "0.3",
         "revision": revision.pk},
    )  # fmt: skip
    assert added.status_code == 302
    late = program.rounds.get(name="Late")
    edit = reverse("season_program_edit", args=[program.pk])
    keep = {
        "name": "Lawns", "year": YEAR, "ship_to": program.ship_to_id,
        "package": program.package_id, "professional": "true",
        "properties": [program.company.properties.get(name="Route C").pk],
    }  # fmt: skip
    assert client.post(edit, keep).status_code == 302
    assert [each.name for each in program.properties.all()] == ["Route C"]
    assert client.post(reverse("season_round_drop", args=[late.pk])).status_code == 302
    assert client.get(reverse("season_pdf", args=[program.pk])).content.startswith(b"%PDF")


def test_stock_plan_and_levels_name_what_waiting_rounds_will_take(
    program, customer, plant_worker, revision, signed_in
):
    standing = reserved(program, customer)
    share = {line.stock.code: line.pct for line in revision.lines.select_related("stock")}
    # Six totes as the loads of their rounds weigh, by the recipe's shares; water is from the main.
    weighs = sum(each.mass_lb for each in standing.rounds.all())
    assert weighs == pytest.approx(6 * 265 * revision.density_lb_per_gal, rel=0.005)
    expected = {
        code: pytest.approx(weighs * pct / 100) for code, pct in share.items() if code != "WATER"
    }
    found = reserved_stocks()
    assert {each.code: each.lb for each in found} == expected
    assert {each.first_on for each in found} == {standing.rounds.first().wanted_on}
    make_lot(revision.lines.first().stock, plant_worker)
    html = signed_in(plant_worker).get(reverse("stock_levels")).content.decode()
    assert "Reserved for rounds of seasons that wait" in html
    give_back(acting_user=customer, program=program)
    assert reserved_stocks() == []
