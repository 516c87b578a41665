"""A season of 40 acres: gallons, whole totes, dollars an acre, and the limits of its place.

The gallons are worked out beside it with the acre of NIST Handbook 44, appendix C: 43,560 sq ft.
Maryland's figures are those of ``tests/orders/compliance/test_season_plan.py``: 0.9 lb N at a time
(Md. Code, Agriculture 6-224(a)(1)), 2.7 lb a year on tall fescue (University of Maryland
Extension, unverified); New York closes December 1 to April 1 (ECL 17-2103(3)(a)).
"""

import math
from datetime import date
from io import BytesIO

import pytest
from pypdf import PdfReader

from blendshop.languages.choice import house_choice
from blendshop.money import money
from formulas.engine.composition import slow_release_pct_of_n
from formulas.engine_bridge import load_catalogue
from orders.models import Order, ProgramRound, StandingRound
from orders.season.changes import YearWithout, what_to_change
from orders.season.page import season_page
from orders.season.season_pdf import render_season
from tests.factories import today
from tests.orders.planning.plant_cases import save_half_slow
from tests.orders.season.conftest import YEAR


def page_of(program):
    return season_page(program, today())


def test_totes_follow_from_acres_rate_and_what_is_left_over(program, revision):
    lb_n_in_a_gal = revision.analysis["N"] / 100 * revision.density_lb_per_gal
    left, expected = 0.0, []
    for rate in (0.7, 0.9, 0.5):
        gal = 40 * 43_560 / 1_000 * rate / lb_n_in_a_gal
        totes = math.ceil((gal - left) / 265)
        left += totes * 265 - gal
        expected.append((pytest.approx(gal), totes, pytest.approx(left)))
    rounds = page_of(program).figures.rounds
    assert [(each.gal, each.packages, each.fill.over_gal) for each in rounds] == expected
    assert [totes for _gal, totes, _left in expected] == [2, 3, 1]


def test_the_season_costs_what_its_orders_would_over_its_acres(program):
    figures = page_of(program).figures
    assert [(month.month.month, month.packages) for month in figures.months] == [
        (4, 2), (6, 3), (9, 1)
    ]  # fmt: skip
    bought = sum(each.price.price_total for each in figures.rounds)
    assert figures.cost_per_acre == money(bought / 40)
    first = figures.rounds[0]
    assert float(first.cost_per_acre) == pytest.approx(
        first.gal * float(first.price.price_per_gal) / 40, abs=0.006
    )


def test_a_round_treats_only_what_it_does_not_leave_out(program, properties):
    program.rounds.get(name="Fall").left_out.add(properties[0])
    assert [each.acres for each in page_of(program).figures.rounds] == [40, 40, 15]


def test_a_rate_above_the_limit_is_told_with_the_largest_that_fits(program):
    program.rounds.filter(name="Spring").update(n_rate_lb_per_1000sqft=1.1)
    page = page_of(program)
    assert [each.round.name for each in page.law.over] == ["Spring"]
    assert page.law.over[0].properties == "Route A, Route B"
    (change,) = page.change.rounds
    assert (change.round.name, change.rate) == ("Spring", 0.9)


def test_the_year_is_summed_for_each_property_and_lowered_until_it_fits(program, properties):
    for month in (5, 7):
        ProgramRound.objects.create(
            program=program,
            name=f"Month {month}",
            on=date(YEAR, month, 20),
            revision=program.rounds.first().revision,
            n_rate_lb_per_1000sqft=0.6,
        )
    program.rounds.get(name="Summer").left_out.add(properties[1])
    page = page_of(program)
    # Route A gets 0.7 + 0.6 + 0.9 + 0.6 + 0.5 = 3.3 lb, route B without summer 2.4 lb.
    (over,) = page.law.over_year
    assert over.properties == "Route A"
    assert "3.30 lb nitrogen in the year against at most 2.70 lb" in over.row.sentence
    year = page.change.year
    assert sum(year.rates.values()) <= 2.7 + 1e-9
    assert year.pct == 82  # 83 % in hundredths: 0.58 + 0.49 + 0.74 + 0.49 + 0.41 = 2.71 lb


def test_where_no_share_of_all_rates_keeps_the_year_it_is_said_which_round_does(program):
    """At most 2.7 lb a year; rounds of 0.9 lb, of which some are ordered already."""
    for month in (5, 7, 8):
        ProgramRound.objects.create(
            program=program,
            name=f"Month {month}",
            on=date(YEAR, month, 20),
            revision=program.rounds.first().revision,
            n_rate_lb_per_1000sqft=0.9,
        )
    program.rounds.update(n_rate_lb_per_1000sqft=0.9)

    def without(*ordered: str):
        law = page_of(program).law
        for rnd in law.checked[0].alike.rounds:
            if rnd.name in ordered:
                rnd.reserved_as = StandingRound(order=Order())
        change = what_to_change(law, load_catalogue(today()))
        assert change.year is None
        return change.without

    # Three ordered rounds are 2.7 lb: none of the three others has room, four are too much.
    assert [rnd.name for rnd in without("Spring", "Month 5", "Summer").together] == [
        "Month 7", "Month 8", "Fall",
    ]  # fmt: skip
    assert without("Spring", "Month 5", "Summer", "Month 7") == YearWithout((), ())
    # 0.9 + 0.9 ordered, 0.9 and 0.01 to come: a hundredth too much, and no less than a hundredth
    # can be sprayed of the last one.
    program.rounds.filter(name__in=["Summer", "Month 7"]).delete()
    program.rounds.filter(name="Fall").update(n_rate_lb_per_1000sqft=0.01)
    found = without("Spring", "Month 5")
    assert [(rnd.name, rate) for rnd, rate in found.alone] == [
        ("Month 8", pytest.approx(0.89)), ("Fall", 0.0),
    ]  # fmt: skip
    assert found.together == ()


def test_on_a_closed_day_no_rate_fits(program, properties):
    for each in properties:
        each.state = "NY"
        each.save()
    program.rounds.filter(name="Spring").update(on=date(YEAR, 3, 31))
    page = page_of(program)
    (change,) = [each for each in page.change.rounds if each.round.name == "Spring"]
    assert change.rate is None
    assert change.blend is None


def test_where_the_blend_is_too_quick_another_is_solved_with_the_law_in_its_wish(
    program, rep, company
):
    quick = save_half_slow(
        rep,
        company,
        name="Quick",
        wish={"targets": [{"nutrient": "N", "min": 24}], "fill": {"volume_gal": 265}},
    )
    assert not slow_release_pct_of_n({k: v for k, v in quick.analysis.items() if k != "N"})
    program.rounds.filter(name="Summer").update(revision=quick)
    (change,) = page_of(program).change.rounds
    # Md. Code, Agriculture 6-224: at least 20 % of the nitrogen slow release.
    assert change.blend.grade.startswith("24")
    assert change.blend.slow_pct >= 20 - 1e-6
    assert "legal=on" in change.blend.link
    assert load_catalogue(today())  # the stocks it was solved from are the plant's own


def test_the_paper_says_what_the_page_says(program):
    page = page_of(program)
    pdf = render_season(page, today(), house_choice())
    read = "".join(each.extract_text() for each in PdfReader(BytesIO(pdf)).pages)
    text = " ".join(read.split())
    assert f"{program.company}" in text
    assert f"Lawns {YEAR}" in text
    figures = page.figures
    told = (figures.cost, figures.cost_per_acre, *(each.cost for each in figures.rounds))
    for money_told in (*told, *(each.cost_per_acre for each in figures.rounds)):
        assert f"${money_told:,.2f}" in text
