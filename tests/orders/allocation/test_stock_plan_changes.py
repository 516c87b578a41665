"""Which recipes a plan may change, and that a change keeps all that was told."""

from decimal import Decimal

import pytest

from blendshop.errors import BadInput
from formulas.blends.actions import save_recipe_for_order
from formulas.blends.changed_recipe import other_recipe
from formulas.engine.composition import content_pct
from formulas.engine.label.grade import grade_of
from formulas.engine_bridge import load_catalogue
from formulas.models import BaseStock, BlendRevision
from orders.allocation.recipe_guarantees import guarantees
from orders.allocation.shown_plan import work_out_plan
from tests.factories import BaseStockFactory, ShipToFactory, today
from tests.orders.allocation.stock_plan_cases import (
    need,
    rows,
    scarce_for,
    stock_up,
)
from tests.orders.planning.plant_cases import WISH, placed_order, save_half_slow


def test_a_change_makes_both_and_keeps_everything_that_was_told(scarce, revision):
    page = work_out_plan(today())
    assert sorted(rows(page).values()) == ["changed", "full"]
    (line,) = page.changed
    changed = other_recipe(revision, line.shares, load_catalogue(today()))
    analysis = changed.answer.analysis
    assert grade_of(analysis) == revision.grade
    assert analysis["N"] >= 24 - 1e-6
    assert 50 - 1e-4 <= changed.answer.slow_release_pct < 51
    assert line.shares["URE"] > 1
    used = {row.code: (row.used_lb, row.on_hand_lb) for row in page.stocks}
    assert all(lb <= there + 0.01 for lb, there in used.values())
    assert any("strong urea solution, new in it" in change.words for change in line.changes)
    assert "do a jar test before the batch" in line.jar_words


def test_orders_of_a_lighter_density_are_changed_all_the_same(scarce, revision):
    """Ordered when gallons were taken to weigh less: a change still has to fill them, and may."""
    BaseStock.objects.filter(code="UAN").update(density_lb_per_gal=11.20)
    page = work_out_plan(today())
    assert sorted(rows(page).values()) == ["changed", "full"]
    (line,) = page.changed
    changed = other_recipe(revision, line.shares, load_catalogue(today()))
    density = changed.answer.totals.density_lb_per_gal
    assert line.mass_lb >= line.volume_gal * density


def test_solutions_that_contract_are_filled_by_a_changed_recipe(scarce, revision):
    BaseStock.objects.filter(code="UAN").update(solutes="urea 35; NH4NO3 44.5", solutes_source="s")
    BaseStock.objects.filter(code="KAC").update(solutes="CH3COOK 50", solutes_source="s")
    page = work_out_plan(today())
    (line,) = page.changed
    changed = other_recipe(revision, line.shares, load_catalogue(today()))
    needed_lb = line.volume_gal * changed.answer.totals.density_lb_per_gal
    assert needed_lb <= line.mass_lb <= needed_lb * 1.005


def test_no_more_orders_are_changed_than_have_to_be(revision, rep, company, formulator):
    """UAN for the smallest of three: it keeps its recipe, whatever the engine spread first."""
    place = ShipToFactory(company=company)
    orders = [
        placed_order(rep, company, revision=revision, ship_to=place, quantity=quantity)
        for quantity in (2, 3, 4)
    ]
    one = need(orders[0], "UAN")
    stock_up(formulator, UAN=one * Decimal("1.3"), TRZ=90_000, KAC=90_000, URE=90_000)
    verdicts = rows(work_out_plan(today()))
    assert [verdicts[order.number] for order in orders] == ["full", "changed", "changed"]


def test_the_stock_covers_the_gallons_of_a_denser_recipe(scarce, revision):
    (line,) = work_out_plan(today()).changed
    changed = other_recipe(revision, line.shares, load_catalogue(today()))
    density = changed.answer.totals.density_lb_per_gal
    (row,) = [row for row in work_out_plan(today()).stocks if row.code == "UAN"]
    assert line.mass_lb >= line.volume_gal * density
    # It weighs more than by its own recipe, which is lighter.
    assert line.mass_lb > 1.001 * line.own_lb
    assert row.used_lb <= row.on_hand_lb + 1e-6


def test_rounded_phosphate_does_not_keep_a_recipe_from_being_changed(
    revision, rep, company, formulator
):
    """Its frozen analysis is rounded, and its own recipe has to count as keeping it."""
    BaseStockFactory(
        code="APP", analysis={"N.ammoniacal": 10.3, "P2O5": 34.7}, cost_per_lb="0.0100"
    )
    wish = {
        "targets": [{"nutrient": "N", "min": 20}, {"nutrient": "P2O5", "min": 1}],
        "stock_limits": [{"code": "APP", "max_pct": 7.00018}],
        "fill": {"volume_gal": 265},
    }
    green = save_half_slow(rep, company, name="Green", wish=wish)
    # 7.00018 % of 34.7 is 2.42906246, a little more than what is frozen.
    assert content_pct(green.analysis, "P2O5") == 2.429062
    order = placed_order(rep, company, revision=green)
    stock_up(formulator, UAN=10)
    (row,) = work_out_plan(today()).orders
    assert (row.number, row.verdict, row.lines[0].why_fixed) == (order.number, "waits", "")


def test_a_stock_the_customer_wanted_left_out_does_not_join(shop, rep, company, formulator):
    revision = save_half_slow(rep, company, wish={**WISH, "exclude": ["URE"]})
    scarce_for(revision, rep, company, formulator)
    page = work_out_plan(today())
    assert page.changed == ()
    assert sorted(rows(page).values()) == ["full", "waits"]


def test_another_stock_takes_the_place_of_one_that_is_left_out(shop, rep, company, formulator):
    BaseStockFactory(
        code="URX",
        name="other urea solution",
        analysis={"N.urea": 32.0},
        traits=["urea"],
        cost_per_lb="0.6000",
    )
    revision = save_half_slow(rep, company, wish={**WISH, "exclude": ["URE"]})
    scarce_for(revision, rep, company, formulator)
    stock_up(formulator, URX=40_000)
    (line,) = work_out_plan(today()).changed
    assert "URX" in line.shares
    assert "URE" not in line.shares


def test_a_stock_marked_as_short_does_not_join(scarce, formulator):
    BaseStock.objects.filter(code="URE").update(short=True)
    assert work_out_plan(today()).changed == ()


def test_a_change_that_breaks_a_limit_of_the_wish_is_not_proposed(shop, rep, company, formulator):
    """The engine does not know of single limits; the check afterwards does."""
    wish = {**WISH, "stock_limits": [{"code": "URE", "max_pct": 1}]}
    revision = save_half_slow(rep, company, wish=wish)
    scarce_for(revision, rep, company, formulator)
    page = work_out_plan(today())
    assert page.changed == ()
    (waiting,) = [row for row in page.orders if row.verdict == "waits"]
    assert "URE" in waiting.lines[0].why_fixed


def test_a_margin_keeps_its_own_recipe(shop, rep, company, formulator):
    revision = save_half_slow(rep, company, wish={**WISH, "margin": {"chance": 0.05}})
    with pytest.raises(BadInput, match="margin"):
        other_recipe(revision, {"TRZ": 100.0}, load_catalogue(today()))


def test_a_grade_that_was_not_wished_stays_what_it_is(shop, rep, company):
    """Up to where 99 % of the nitrogen would reach the next tenth."""
    revision = save_half_slow(
        rep, company, wish={"recipe": [{"code": "TRZ", "pct": 100}], "fill": {"volume_gal": 265}}
    )
    assert revision.grade == "27.7-0-0"  # 99 % of 28.0, rounded down
    (n,) = [wish for wish in guarantees(revision)[0] if wish.nutrient == "N"]
    assert n.min_pct == 27.7
    assert n.max_pct == pytest.approx(27.8 / 0.99, abs=2e-4)


@pytest.mark.parametrize(
    ("shares", "word"),
    [
        ({"TRZ": 100.0}, "above|below|wish"),  # no potash, too much nitrogen
        ({"NONE": 100.0}, "no stock"),
        ({"TRZ": 60.0, "KAC": 30.0}, "100"),
    ],
)
def test_a_recipe_beside_the_wish_is_never_saved(revision, formulator, shares, word):
    with pytest.raises(BadInput, match=word):
        save_recipe_for_order(
            acting_user=formulator,
            revision=revision,
            shares=shares,
            catalogue=load_catalogue(today()),
            note="",
        )
    assert BlendRevision.objects.count() == 1


def test_guarantees_hold_grade_slow_share_and_never_more_phosphate(revision):
    wishes, slow = guarantees(revision)
    limits = {wish.nutrient: (wish.min_pct, wish.max_pct) for wish in wishes}
    # What was wished is the grade, whatever a recipe holds beyond it.
    assert limits["N"] == (24.0, None)
    assert limits["K2O"] == (3.0, None)
    assert limits["P2O5"] == (None, 0.0)
    assert slow is not None
    assert (slow.min_pct, slow.max_pct) == (50, pytest.approx(51, abs=1e-5))
