"""One wish followed from the blend page to the tank: one load, one cost, one price everywhere.

The load plan over HTTP knows nothing of prices, quotes or tanks of the plant; what it answers for
the same ``load`` is the check from outside of all the others.
"""

from decimal import Decimal

import pytest
from django.http import QueryDict
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone

from blendshop.figures.readers import house
from blendshop.money import money
from blendshop.outbox.models import Mail
from formulas.engine.label.printed_figures import text
from formulas.engine_bridge import exact
from orders.blend_page.page_options import load_page_options
from orders.blend_page.page_state import state_of
from orders.blend_page.wish_form import WishForm
from orders.labels.view import label_draft_view
from orders.models import LabelPromise, Package, PlantProfile, Tank
from orders.ordering.actions import cancel_order
from orders.planning.actions.planning import plan_batches
from orders.planning.default_load import quoted_load
from orders.planning.due_dates import read_due_dates
from orders.pricing import StepCode
from orders.quoting.actions.quotes import accept_quote, draft_quote, send_quote
from orders.quoting.draft_prices import DraftLine
from orders.quoting.links import quote_url
from orders.reordering.sources import reorder_of_blend, reorder_of_order
from tests.factories import ShipToFactory
from tests.orders.labels.label_cases import text_of
from tests.orders.planning.plant_cases import WISH, placed_order

TYPED = {"N_min": "24", "slow_min": "50", "K2O_min": "3", "package": "tote-265", "quantity": "2"}
LOAD = {"volume_gal": 530, "scale_step_lb": 1, "tolerance_pct": 0.5, "capacity_gal": 1200}


@pytest.fixture
def ship_to(shop, company):
    return ShipToFactory(company=company)


@pytest.fixture
def page(ship_to, rep, company):
    """What the blend page shows the rep for two totes to the customer's yard."""
    data = QueryDict(mutable=True)
    data.update(TYPED | {"company": str(company.pk), "ship_to": str(ship_to.pk), "n_rate": "0.7"})
    return state_of(WishForm(data, options=load_page_options(rep, timezone.localdate())))


@pytest.fixture
def quote(ship_to, rep, company, revision):
    """Two totes of the same wish, saved, drafted and sent."""
    tote = Package.objects.get(code="tote-265")
    asked = DraftLine(revision=revision, package=tote, quantity=2, n_rate_lb_per_1000sqft=0.7)
    quote = draft_quote(
        acting_user=rep, company=company, ship_to=ship_to, lines=[asked], validity_days=30
    )
    send_quote(quote=quote, acting_user=rep)
    return quote


def weights(steps):
    return {step.code: step.weight_lb for step in steps}


def test_page_and_draft_are_priced_for_the_load_the_api_plans(page, quote, signed_in, rep):
    answer = signed_in(rep).post(
        "/api/v1/load-plans/",
        {**{key: part for key, part in WISH.items() if key != "fill"}, "load": LOAD},
        content_type="application/json",
    )
    assert answer.status_code == 200
    api = answer.json()["load"]
    (line,) = quote.lines.all()
    load = line.price_breakdown.load
    assert {step["code"]: step["weight_lb"] for step in api["steps"]} == weights(load.steps)
    assert Decimal(api["cost"]) == load.cost
    assert Decimal(api["room_cost_per_gal"]) == load.room_cost_per_gal
    assert page.price.load == load
    material = line.price_breakdown.amount(StepCode.MATERIAL)
    assert material == load.cost == page.price.breakdown.amount(StepCode.MATERIAL)
    assert load.cost > money(Decimal(265) * 2 * page.blend.totals.cost_per_gal)


def test_the_price_is_one_to_the_cent_from_page_to_order(
    page, quote, signed_in, rep, client, company
):
    (line,) = quote.lines.all()
    assert page.price.breakdown == page.price.breakdown.extending(line.price_breakdown)
    assert page.price.breaks[0].price_total == line.line_total
    shown = f"${line.line_total:,.2f}"
    assert shown in text_of(bytes(quote.papers.get().pdf))
    public = client.get(quote_url(quote)).content.decode()
    assert shown in public
    order = accept_quote(quote=quote, acting_user=None, name="Casey Owner")
    ordered = order.lines.get()
    assert ordered.line_total == line.line_total
    assert quoted_load(ordered) == line.price_breakdown.load
    again = reorder_of_order(order)
    assert [each.price.price_total for each in again.lines] == [line.line_total]


def test_the_planned_batch_weighs_and_costs_what_was_quoted(quote, plant_worker):
    order = accept_quote(quote=quote, acting_user=None, name="Casey Owner")
    (batch,) = plan_batches(order=order, tank=Tank.objects.get(), acting_user=plant_worker)
    load = quoted_load(order.lines.get())
    assert weights(batch.load_plan.steps) == weights(load.steps)
    cost_per_lb = {
        stock.code: stock.cost_per_lb for stock in order.lines.get().price_breakdown.material
    }
    cost = sum(
        (exact(step.weight_lb) * cost_per_lb[step.code] for step in batch.load_plan.steps),
        Decimal(0),
    )
    assert money(cost) == load.cost
    assert batch.load_plan.tolerance_pct == load.reached_pct


def test_page_and_promise_print_the_same_lines(page, quote):
    promised = LabelPromise.objects.get().promised.lines_pct
    draft = page.label().draft
    shown = {line.key: line.printed for line in draft.guarantees if line.key in promised}
    assert shown == {key: text(pct) for key, pct in promised.items()}
    assert draft.grade == quote.lines.get().price_breakdown.blend.grade == page.grade


def test_page_and_label_state_the_same_net_contents(page, quote, plant_worker):
    order = accept_quote(quote=quote, acting_user=None, name="Casey Owner")
    (batch,) = plan_batches(order=order, tank=Tank.objects.get(), acting_user=plant_worker)
    view = label_draft_view(batch.parts.get())
    html = render_to_string("orders/blend_page/partials/label.html", {"label": page.label()})
    assert f": {view.net_mass_lb:,.1f} lb ({view.net_mass_kg:,.1f} kg), " in html
    assert f", {view.net_volume_gal:,.1f} gal ({view.net_volume_l:,.1f} L)." in html
    # Two totes on quote and order weigh what their labels state, rounded down to tenths each.
    assert 0 <= float(order.lines.get().mass_lb) - 2 * view.net_mass_lb < 0.2
    quoted = text_of(bytes(quote.papers.get().pdf))
    shown = house().number(view.density_lb_per_gal, 2)
    assert f"; {shown}" in " ".join(quoted.split())


@pytest.fixture
def busy(revision, rep, company):
    """Ten loads are ordered, so that a date is five days of the tank and not the lead time."""
    PlantProfile.objects.update(lead_time_working_days=1)
    return placed_order(rep, company, quantity=40, revision=revision)


def test_the_due_date_is_one_from_page_to_order(
    busy, page, ship_to, revision, company, rep, customer, client, signed_in
):
    due_on = page.price.due.due_on
    assert due_on > page.price.due.usual_on
    tote = Package.objects.get(code="tote-265")
    lines = [{"package": "tote-265", "quantity": 2}]
    recipe = [{"code": line.code, "pct": line.pct} for line in page.blend.recipe]
    for of in ({"revision": revision.pk}, {"recipe": recipe}):
        answer = signed_in(rep).post(
            "/api/v1/due-dates/", {"lines": [lines[0] | of]}, content_type="application/json"
        )
        assert answer.json()["due_on"] == due_on.isoformat()
    again = reorder_of_blend(revision.blend, package=tote, quantity=2, ship_to=ship_to)
    assert again.due_on == due_on
    asked = DraftLine(revision=revision, package=tote, quantity=2)
    draft = draft_quote(
        acting_user=rep, company=company, ship_to=ship_to, lines=[asked], validity_days=30
    )
    written = f"{due_on:%B} {due_on.day}, {due_on.year}"
    staff = signed_in(rep)
    assert written in staff.get(reverse("quote_detail", args=[draft.number])).content.decode()
    send_quote(quote=draft, acting_user=rep)
    assert written in " ".join(text_of(bytes(draft.papers.get().pdf)).split())
    mail = Mail.objects.get(about_key=draft.number).text
    assert f"Due: {written}, if accepted on " in mail
    assert written in client.get(quote_url(draft)).content.decode()
    order = accept_quote(quote=draft, acting_user=None, name="Casey Owner")
    assert order.due_on == due_on
    shown = staff.get(reverse("order_detail", args=[order.number])).content.decode()
    assert f"{due_on:%A}, {written}" in shown
    board = staff.get(reverse("order_board")).content.decode()
    assert f"Due {due_on:%a}, {due_on:%b} {due_on.day}" in board
    assert "Cannot be made" not in board + shown


def test_a_date_that_has_become_later_is_told_before_it_is_accepted(
    busy, quote, revision, rep, company, client
):
    offered = quote.due_on
    assert offered == read_due_dates(timezone.localdate()).of_lines(quote.lines.all()).due_on
    placed_order(rep, company, quantity=16, revision=revision)  # four loads, two days
    later = read_due_dates(timezone.localdate()).of_lines(quote.lines.all()).due_on
    assert later > offered
    url, answer = quote_url(quote), {"decision": "accept", "name": "Casey Owner", "agreed": "on"}
    shown = client.get(url)
    told = f"Accepted today it is due on {later:%A, %B} {later.day}"
    assert told in shown.content.decode()
    stale = client.post(url, answer | {"seen_due_on": offered.isoformat()}, follow=True)
    assert "later than" in stale.content.decode()
    quote.refresh_from_db()
    assert quote.status == "sent"
    assert f'name="seen_due_on" value="{later.isoformat()}"' in stale.content.decode()
    client.post(url, answer | {"seen_due_on": later.isoformat()})
    quote.refresh_from_db()
    assert (quote.due_on, quote.order.due_on) == (offered, later)


def test_a_quote_keeps_its_date_although_the_tanks_have_become_free(busy, quote, office):
    cancel_order(order=busy, acting_user=office, why="Too dry.")
    order = accept_quote(quote=quote, acting_user=None, name="Casey Owner")
    assert order.due_on == quote.due_on
