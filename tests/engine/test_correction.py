"""A corrected tank keeps every promise, or the plant is told why not and what it is worth."""

import itertools
import math
from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from formulas.engine import (
    BadProblem,
    CompatibilityRule,
    Effect,
    NutrientWish,
    SlowReleaseWish,
    Stock,
)
from formulas.engine.composition import content_pct, slow_n_pct
from formulas.engine.correction import (
    Aim,
    CannotCorrect,
    Corrected,
    InTank,
    OnHand,
    Promise,
    correct,
)
from formulas.engine.result import EngineFailure
from tests.engine.lawn_stocks import (
    FEDTA,
    FES,
    HUM,
    HUMIC_RULE,
    IRON_RULE,
    JAR_RULE,
    KACE,
    KTS,
    RULES,
    STOCKS,
    TRIAZONE,
    UAN32,
    WATER,
)
from tests.engine.strategies import catalogues, rules, wishes

SUMMER = Promise(
    (NutrientWish("N", 24.0), NutrientWish("K2O", 3.0, 3.5)),
    SlowReleaseWish(50.0),
    RULES,
    most_gal=265.0,
)
#: A batch of 2,400 lb that keeps the summer promise.
WEIGHED = ((UAN32, 550.0), (TRIAZONE, 1429.0), (KTS, 288.0), (WATER, 133.0))
SHELF = tuple(OnHand(stock, 500.0) for stock in STOCKS)


def tank(**changed):
    """The weighed batch with some weights changed by code."""
    return [InTank(stock, changed.get(stock.code, lb)) for stock, lb in WEIGHED]


def totals(charges, corrected, shelf=SHELF):
    """(stock, lb) of everything in the corrected tank."""
    stock_of = {offer.stock.code: offer.stock for offer in shelf}
    return [
        *((charge.stock, charge.weight_lb) for charge in charges),
        *((stock_of[each.code], each.weight_lb) for each in corrected.additions),
    ]


def pct_of(mixture, content):
    mass = sum(lb for _, lb in mixture)
    return sum(lb * content(stock.analysis) for stock, lb in mixture) / mass


def keeps(mixture, promise, slack=1e-7):
    """Whether a mixture keeps wishes and slow share, worked out without the engine's rows."""
    for wish in promise.wishes:
        pct = pct_of(mixture, lambda analysis, key=wish.nutrient: content_pct(analysis, key))
        if wish.min_pct is not None and pct < wish.min_pct - slack:
            return False
        if wish.max_pct is not None and pct > wish.max_pct + slack:
            return False
    if promise.slow_release is not None:
        slow, total = pct_of(mixture, slow_n_pct), pct_of(mixture, lambda a: content_pct(a, "N"))
        least, most = promise.slow_release.min_pct, promise.slow_release.max_pct
        if least is not None and slow < least / 100 * total - slack:
            return False
        if most is not None and slow > most / 100 * total + slack:
            return False
    gal = sum(lb / stock.density_lb_per_gal for stock, lb in mixture)
    lb = sum(lb for _, lb in mixture)
    return (promise.most_gal is None or gal <= promise.most_gal * (1 + 1e-9)) and (
        promise.most_lb is None or lb <= promise.most_lb * (1 + 1e-9)
    )


@pytest.mark.parametrize("code", ["UAN32", "TRIAZONE", "KTS", "WATER"])
@pytest.mark.parametrize("times", [0.9, 1.05, 1.1])
def test_a_weight_that_is_off_is_corrected_within_the_tank(code, times):
    plain = {stock.code: lb for stock, lb in WEIGHED}
    charges = tank(**{code: round(plain[code] * times)})
    done = correct(charges, SHELF, SUMMER)
    assert isinstance(done, Corrected)
    mixture = totals(charges, done)
    assert keeps(mixture, SUMMER)
    assert done.mass_lb == pytest.approx(sum(lb for _, lb in mixture))
    assert done.analysis["N"] == pytest.approx(pct_of(mixture, lambda a: content_pct(a, "N")))
    assert done.added_cost == pytest.approx(sum(each.cost for each in done.additions))
    assert done.volume_gal == pytest.approx(done.mass_lb / done.density_lb_per_gal)


def test_a_tank_that_keeps_its_promises_needs_nothing():
    done = correct(tank(), SHELF, SUMMER)
    assert done.additions == ()
    assert done.added_cost == done.added_lb == 0


def test_additions_come_in_charging_order():
    ranked = [
        OnHand(replace(UAN32, charging_rank=40), 500),
        OnHand(replace(TRIAZONE, charging_rank=70), 500),
        OnHand(replace(KTS, charging_rank=60), 500),
    ]
    done = correct(tank(WATER=145), ranked, SUMMER)
    assert [each.code for each in done.additions] == ["UAN32", "KTS", "TRIAZONE"]


def test_a_stock_that_comes_late_is_added_with_a_caution():
    late = OnHand(replace(UAN32, charging_rank=10), 500)
    done = correct(tank(UAN32=500), [late], SUMMER)
    assert [each.code for each in done.additions] == ["UAN32"]
    (caution,) = [found for found in done.findings if found.code == "charged_late"]
    assert caution.severity == "caution"
    assert "already in the tank" in caution.message


def test_the_assay_of_the_lot_in_the_tank_counts_and_not_the_nominal_one():
    weak = replace(KACE, analysis={"K2O": 20.0})
    charges = [InTank(weak, 100), InTank(KACE, 100), InTank(WATER, 200)]
    promise = Promise((NutrientWish("K2O", 12.0),))
    done = correct(charges, [OnHand(KACE, 500)], promise)
    # 44 lb of K2O in 400 lb; x lb of 24 % more: 44 + 0.24 x >= 0.12 (400 + x), x = 33.3.
    assert [(each.code, each.weight_lb) for each in done.additions] == [("KACE", 34)]


def test_additions_are_whole_steps_of_each_scale():
    coarse = [OnHand(replace(stock, scale_step_lb=2.5), 500) for stock in STOCKS]
    done = correct(tank(WATER=145), coarse, SUMMER)
    assert done.additions
    for each in done.additions:
        assert each.weight_lb == 2.5 * each.steps


def test_the_smallest_mass_may_cost_more_than_the_smallest_cost():
    rich = Stock("RICH", "Rich", 11.0, 2.0, {"K2O": 40.0})
    charges = [InTank(KACE, 100), InTank(WATER, 200)]
    promise = Promise((NutrientWish("K2O", 10.0),))
    shelf = [OnHand(rich, 500), OnHand(KACE, 500)]
    cheap, light = (correct(charges, shelf, promise, aim=aim) for aim in (Aim.COST, Aim.MASS))
    # 24 lb of K2O in 300 lb: 6 / 0.14 = 43 lb of 24 %, or 6 / 0.30 = 20 lb of 40 %.
    assert [(each.code, each.weight_lb) for each in cheap.additions] == [("KACE", 43)]
    assert [(each.code, each.weight_lb) for each in light.additions] == [("RICH", 20)]


def test_what_must_not_meet_the_tank_is_not_added():
    promise = replace(SUMMER, wishes=(*SUMMER.wishes, NutrientWish("Fe", 0.1)), most_gal=None)
    shelf = [OnHand(stock, 5000.0) for stock in STOCKS]
    done = correct(tank(), shelf, promise)
    assert {"FEDTA"} <= {each.code for each in done.additions}
    assert "FES" not in {each.code for each in done.additions}
    # Without the rule the plain iron is the cheaper one.
    free = correct(tank(), shelf, replace(promise, rules=()))
    assert "FES" in {each.code for each in free.additions}


def test_two_new_stocks_that_must_not_meet_are_not_both_added():
    charges = [InTank(WATER, 1000)]
    apart = CompatibilityRule("thiosulfate", "unchelated_iron", Effect.BLOCKS, "Why.", "demo")
    promise = Promise((NutrientWish("K2O", 3.0), NutrientWish("Fe", 0.2)), rules=(apart,))
    shelf = [OnHand(stock, 1000) for stock in (KTS, KACE, FES, FEDTA)]
    codes = {each.code for each in correct(charges, shelf, promise).additions}
    assert not {"KTS", "FES"} <= codes
    assert {"KTS", "FES"} <= {
        each.code for each in correct(charges, shelf, replace(promise, rules=())).additions
    }


@pytest.mark.parametrize("in_tank", [True, False])
@pytest.mark.parametrize("limit", [{"largest_ratio": 1.0}, {"largest_pct": 17.0}])
def test_a_limit_beside_another_stock_is_kept(in_tank, limit):
    # Humic at most 1 lb per lb of urea-triazone (or so much of the blend) while there is any.
    charges = [InTank(WATER, 1000), *([InTank(TRIAZONE, 10)] if in_tank else [])]
    rule = replace(HUMIC_RULE, **({"largest_ratio": None} | limit))
    promise = Promise((NutrientWish("humic_acid", 2.0), NutrientWish("N.slow", 0.1)), rules=(rule,))
    shelf = [OnHand(HUM, 2000), OnHand(TRIAZONE, 2000)]
    lb = {stock.code: 0.0 for stock in STOCKS}
    for stock, pounds in totals(charges, correct(charges, shelf, promise), shelf):
        lb[stock.code] += pounds
    most = lb["TRIAZONE"] if "largest_ratio" in limit else 0.17 * sum(lb.values())
    assert 0 < lb["HUM"] <= most + 1e-9


def test_a_jar_test_rule_warns_and_binds_nothing():
    done = correct(tank(UAN32=500), SHELF, replace(SUMMER, rules=(JAR_RULE,)))
    assert any(found.code == "jar_test" for found in done.findings)


def test_a_rule_broken_in_the_tank_cannot_be_mended():
    charges = [*tank(), InTank(FES, 10)]
    answer = correct(charges, SHELF, SUMMER)
    assert isinstance(answer, CannotCorrect)
    assert answer.best is None
    assert "hold the batch" in answer.sentence
    assert IRON_RULE.words_a in answer.in_the_way[0]


def test_a_tank_without_room_says_how_much_it_takes():
    answer = correct(tank(UAN32=660), SHELF, replace(SUMMER, most_gal=240.0))
    assert isinstance(answer, CannotCorrect)
    assert answer.in_the_way == ("the tank's 240 gal",)
    assert "no room" in answer.sentence
    # 660 lb UAN, 1,429 triazone, 288 KTS and 133 water fill 232.8 gal.
    assert "7.2 gal left" in answer.sentence


def test_a_limit_in_pounds_is_room_as_well():
    answer = correct(tank(WATER=160), SHELF, replace(SUMMER, most_gal=None, most_lb=2500.0))
    assert answer.in_the_way == ("the tank's 2500 lb",)


def test_a_short_shelf_says_what_is_missing():
    answer = correct(tank(UAN32=500), [OnHand(UAN32, 10.0)], SUMMER)
    assert answer.in_the_way == ("UAN32 on hand",)
    full = correct(tank(UAN32=500), [OnHand(UAN32, 500.0)], SUMMER)
    needed = full.additions[0].weight_lb
    assert f"{needed - 10:g} lb more" in answer.sentence


def test_no_room_and_a_short_shelf_are_both_told():
    slow = correct(
        [InTank(KACE, 100), InTank(WATER, 900)],
        [OnHand(KACE, 1.0)],
        Promise((NutrientWish("K2O", 10.0),), most_lb=1001.0),
    )
    assert slow.in_the_way == ("the tank's 1001 lb", "KACE on hand")


def test_coarse_scales_are_named():
    stones = Stock("STONES", "Coarse potash", 12.0, 0.5, {"K2O": 25.0}, scale_step_lb=500.0)
    answer = correct(
        [InTank(KACE, 100), InTank(WATER, 900)],
        [OnHand(stones, 5000)],
        Promise((NutrientWish("K2O", 3.0, 3.2),)),
    )
    assert answer.in_the_way == ("the scale step 500 lb of STONES",)


def test_a_promise_that_nothing_brings_back_is_named():
    answer = correct(tank(UAN32=500), [OnHand(WATER, 500.0)], SUMMER)
    assert "N at least 24" in answer.in_the_way
    assert "cannot be taken out" in answer.sentence
    assert isinstance(answer.best.tank, Corrected)


def test_an_overweight_charge_that_nothing_thins_leaves_the_grade_that_is_there():
    # 12 lb of 24 % K2O too many: more than the wished maximum, and no water on hand.
    charges = [InTank(KACE, 300), InTank(WATER, 700)]
    answer = correct(charges, [], Promise((NutrientWish("K2O", 6.0, 6.5),)))
    assert answer.best.grade == "0-0-6"
    assert answer.best.above == ("K2O at most 6.5",)
    assert answer.best.tank.additions == ()
    assert "outside K2O at most 6.5" in answer.sentence


@pytest.mark.parametrize(
    ("kind", "jurisdiction", "grade"),
    [
        ("specialty", None, "23.4-0-0"),
        ("commercial", None, "23-0-0"),
        ("specialty", "WI", "23-0-0"),
    ],
)
def test_the_best_grade_is_rounded_down_as_its_state_prints_it(kind, jurisdiction, grade):
    charges = [InTank(UAN32, 733), InTank(WATER, 267)]  # 23.456 % N
    answer = correct(
        charges, [], Promise((NutrientWish("N", 24.0),)), kind=kind, jurisdiction=jurisdiction
    )
    assert answer.best.grade == grade
    assert answer.best.guarantees == {"N": Decimal(grade.split("-")[0])}


def test_the_best_grade_gives_the_first_nutrients_first():
    # Room for 100 lb only. Nitrogen comes first: it takes 92 lb of UAN to bring back 24 %.
    charges = [InTank(UAN32, 700), InTank(KACE, 90), InTank(WATER, 210)]
    promise = Promise((NutrientWish("N", 24.0), NutrientWish("K2O", 3.0)), most_lb=1100.0)
    answer = correct(charges, [OnHand(UAN32, 500), OnHand(KACE, 500)], promise)
    lb = 1000.0 * (0.24 - 0.224) / (0.32 - 0.24)
    assert lb > 100
    assert answer.best.guarantees["N"] == Decimal("23.2")
    best = max(
        (
            tuple(
                math.floor(10 * pct + 1e-9) / 10
                for pct in (
                    32.0 * (700 + u) / (1000 + u + k),
                    24.0 * (90 + k) / (1000 + u + k),
                )
            )
            for u in range(101)
            for k in range(101 - u)
        ),
        key=lambda pair: (min(pair[0], 24.0), min(pair[1], 3.0)),
    )
    assert tuple(float(answer.best.guarantees[key]) for key in ("N", "K2O")) == best


def test_a_micronutrient_below_its_label_minimum_is_not_guaranteed_at_all():
    charges = [InTank(FEDTA, 20), InTank(UAN32, 980)]  # 0.09 % Fe, minimum 0.1 %
    answer = correct(charges, [], Promise((NutrientWish("N", 24.0), NutrientWish("Fe", 0.2))))
    assert set(answer.best.guarantees) == {"N"}


def test_a_slow_share_is_claimed_in_whole_percents_from_fifteen_upward():
    promise = Promise((NutrientWish("N", 20.0),), SlowReleaseWish(50.0))
    fifth = correct([InTank(TRIAZONE, 300), InTank(UAN32, 700)], [], promise)
    # 60.48 of 308 parts of N is 19.6 %.
    assert fifth.best.slow_release_pct == Decimal(19)
    little = correct([InTank(TRIAZONE, 200), InTank(UAN32, 800)], [], promise)
    assert little.best.slow_release_pct is None  # 40.32 of 312 is 12.9 %
    assert "slowly available" not in little.sentence


def test_forms_and_other_ingredients_are_rounded_down_too():
    charges = [InTank(HUM, 100), InTank(UAN32, 900)]
    wished = (NutrientWish("N.nitrate", 8.0), NutrientWish("humic_acid", 1.5))
    answer = correct(charges, [], Promise(wished))
    assert answer.best.guarantees == {
        "N.nitrate": Decimal("7.2"),
        "humic_acid": Decimal("1.2"),
    }


def test_a_tank_beyond_its_mark_is_what_it_is():
    done = correct(tank(), SHELF, replace(SUMMER, most_gal=100.0))
    assert done.additions == ()
    answer = correct(tank(UAN32=500), SHELF, replace(SUMMER, most_gal=100.0))
    assert "0.0 gal left" in answer.sentence
    assert answer.best.tank.additions == ()


def test_a_stocks_own_limit_is_kept():
    # Humic extract at most 40 % of a blend.
    done = correct([InTank(HUM, 500), InTank(WATER, 500)], [OnHand(WATER, 1000)], Promise())
    assert [(each.code, each.weight_lb) for each in done.additions] == [("WATER", 250)]


def small_tanks():
    """Two charges, two stocks on hand of at most twelve steps each, and wishes near the mix."""

    @st.composite
    def draw_one(draw):
        made = draw(catalogues(largest=3))
        assume(len(made) >= 2)
        first, second = made[0], made[-1]
        charges = [InTank(first, draw(st.integers(20, 60))), InTank(second, 20)]
        mixture = [(c.stock, c.weight_lb / sum(x.weight_lb for x in charges)) for c in charges]
        asked = tuple(
            replace(
                wish,
                min_pct=min(100.0, wish.min_pct * draw(st.sampled_from([1.0, 1.02, 1.2]))),
                max_pct=None if wish.max_pct is None else min(100.0, 1.3 * wish.max_pct),
            )
            for wish in draw(wishes(mixture))
        )
        shelf = [
            OnHand(replace(stock, scale_step_lb=draw(st.sampled_from([2.0, 2.5]))), 12.0)
            for stock in made[:2]
        ]
        promise = Promise(
            asked,
            draw(st.none() | st.just(SlowReleaseWish(10.0))),
            tuple(draw(st.lists(rules(), max_size=1))),
            most_gal=draw(st.none() | st.just(9.0)),
        )
        return charges, shelf, promise

    return draw_one()


def every_addition(shelf):
    """Each combination of whole steps as {code: lb}."""
    counts = [range(int(offer.weight_lb / offer.stock.scale_step_lb) + 1) for offer in shelf]
    for steps in itertools.product(*counts):
        yield {
            offer.stock.code: n * offer.stock.scale_step_lb
            for offer, n in zip(shelf, steps, strict=True)
        }


def obeys(mixture, promise):
    """Rules by their meaning, for the traits of the strategies."""
    lb = {}
    for stock, pounds in mixture:
        lb.setdefault(stock.code, [stock, 0.0])[1] += pounds
    there = [(stock, pounds) for stock, pounds in lb.values() if pounds > 0]
    total = sum(pounds for _, pounds in there)
    for rule in promise.rules:
        for b, _ in there:
            if rule.trait_b not in b.traits:
                continue
            of_a = sum(p for s, p in there if rule.trait_a in s.traits and s.code != b.code)
            of_b = sum(p for s, p in there if rule.trait_b in s.traits)
            if rule.effect is Effect.BLOCKS and of_a > 0:
                return False
            if rule.largest_pct is not None and of_a > rule.largest_pct / 100 * total + 1e-7:
                return False
            if rule.largest_ratio is not None and of_a > rule.largest_ratio * of_b + 1e-7:
                return False
    return True


@given(small_tanks())
def test_a_small_correction_is_the_cheapest_there_is(question):
    charges, shelf, promise = question
    before = [(charge.stock, charge.weight_lb) for charge in charges]
    stock_of = {offer.stock.code: offer.stock for offer in shelf}
    costs = []
    for lb in every_addition(shelf):
        mixture = before + [(stock_of[code], pounds) for code, pounds in lb.items()]
        if keeps(mixture, promise) and obeys(mixture, promise):
            costs.append(sum(stock_of[code].cost_per_lb * pounds for code, pounds in lb.items()))
    answer = correct(charges, shelf, promise)
    if not costs:
        assert isinstance(answer, CannotCorrect)
        return
    assert isinstance(answer, Corrected)
    mixture = totals(charges, answer, shelf)
    assert keeps(mixture, promise)
    assert obeys(mixture, promise)
    assert all(each.weight_lb > 0 for each in answer.additions)
    assert all(each.weight_lb <= 12.0 for each in answer.additions)
    # Ties are broken by a millionth of a dollar per pound.
    assert answer.added_cost == pytest.approx(min(costs), abs=1e-4)


@given(small_tanks())
def test_the_best_grade_of_a_tank_is_really_in_it(question):
    charges, shelf, promise = question
    answer = correct(charges, shelf, promise)
    assume(isinstance(answer, CannotCorrect) and answer.best is not None)
    mixture = totals(charges, answer.best.tank, shelf)
    held = Promise(
        tuple(NutrientWish(key, float(pct)) for key, pct in answer.best.guarantees.items()),
        most_gal=None,
    )
    assert keeps(mixture, held, slack=1e-5)
    for wish in promise.wishes:
        if wish.nutrient in answer.best.guarantees:
            assert float(answer.best.guarantees[wish.nutrient]) <= wish.min_pct + 1e-5


def test_a_limit_beside_a_stock_that_is_not_added_binds_nothing():
    rule = replace(HUMIC_RULE, largest_ratio=None, largest_pct=5.0)
    shelf = [OnHand(HUM, 2000), OnHand(TRIAZONE, 2000)]
    promise = Promise((NutrientWish("humic_acid", 2.0),), rules=(rule,))
    done = correct([InTank(WATER, 1000)], shelf, promise)
    assert [each.code for each in done.additions] == ["HUM"]  # 16.7 % of the blend


def test_a_wish_may_be_a_maximum_alone():
    done = correct(
        [InTank(KACE, 100), InTank(WATER, 100)],
        [OnHand(WATER, 500)],
        Promise((NutrientWish("K2O", max_pct=10.0),)),
    )
    assert [(each.code, each.weight_lb) for each in done.additions] == [("WATER", 40)]


def test_a_slow_share_may_have_a_maximum():
    charges = [InTank(TRIAZONE, 500), InTank(UAN32, 400)]
    promise = Promise((), SlowReleaseWish(max_pct=35.0))
    done = correct(charges, [OnHand(UAN32, 500)], promise)
    # 100.8 lb of slow N may be 35 % of 288 lb: 140 lb and 0.32 (400 + x), x = 62.5.
    assert [(each.code, each.weight_lb) for each in done.additions] == [("UAN32", 63)]
    answer = correct(charges, [], promise)
    assert answer.best.above == ("slow release at most 35 % of N",)


def test_a_broken_limit_of_a_stock_without_any_promise_is_named():
    answer = correct([InTank(HUM, 500), InTank(WATER, 500)], [], Promise())
    assert answer.in_the_way == ("HUM at most 40 % (the stock's own limit)",)
    assert answer.best is None
    assert "cannot be sold as any grade" in answer.sentence


@pytest.mark.parametrize(
    ("steps", "said"),
    [
        ([0, 0], "do not keep K2O at least 12"),
        ([-1, 0], "negative"),
        ([600, 0], "more than what is on hand"),
        ([450, 450], "do not fit"),
        ([100, 1], "break a compatibility rule"),
    ],
)
def test_a_wrong_answer_of_the_solver_is_never_weighed(steps, said, monkeypatch):
    apart = CompatibilityRule("thiosulfate", "water", Effect.BLOCKS, "Why.", "demo")
    charges = [InTank(KACE, 100), InTank(WATER, 200 if steps[0] >= 0 else 0)]
    promise = Promise((NutrientWish("K2O", 12.0),), rules=(apart,), most_lb=800.0)
    monkeypatch.setattr(
        "formulas.engine.correction_tank.least_steps", lambda *_: np.array(steps, dtype=float)
    )
    with pytest.raises(EngineFailure, match=said):
        correct(charges, [OnHand(KACE, 500), OnHand(KTS, 500)], promise)


@pytest.mark.parametrize(
    ("charges", "shelf", "promise", "field"),
    [
        ([], [], Promise(), "tank"),
        ([InTank(KACE, 0.0)], [], Promise(), "tank"),
        ([InTank(KACE, -1.0)], [], Promise(), "tank.0.weight_lb"),
        ([InTank(KACE, 1.0)], [OnHand(UAN32, math.nan)], Promise(), "on_hand.0.weight_lb"),
        ([InTank(KACE, 1.0)], [OnHand(UAN32, 1.0)] * 2, Promise(), "on_hand"),
        (
            [InTank(replace(KACE, density_lb_per_gal=0.0), 1.0)],
            [],
            Promise(),
            "tank.0.stock.density_lb_per_gal",
        ),
        ([InTank(KACE, 1.0)], [], Promise(most_gal=0.0), "most_gal"),
        ([InTank(KACE, 1.0)], [], Promise(most_lb=math.inf), "most_lb"),
        ([InTank(KACE, 1.0)], [], Promise((NutrientWish("gold", 1.0),)), "targets.0.nutrient"),
    ],
)
def test_a_wrong_question_is_refused_by_field(charges, shelf, promise, field):
    with pytest.raises(BadProblem) as refused:
        correct(charges, shelf, promise)
    assert field in [error.field for error in refused.value.errors]
