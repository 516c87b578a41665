"""Whatever the analysis: true, adding up, rounded once, and read back as printed."""

from dataclasses import replace
from decimal import Decimal

from hypothesis import given, settings
from hypothesis import strategies as st

from formulas.engine.composition import ANALYSIS_KEYS, NITROGEN_FORMS, NUTRIENTS, content_pct
from formulas.engine.label.grade_rules import GRADE_RULES
from formulas.engine.label.guarantee import (
    LabelBasis,
    LabelChange,
    LabelSource,
    draft_label,
    with_changes,
)
from formulas.engine.label.printed_figures import PRECISION_PCT, read_form
from formulas.engine.label.text import as_text
from tests.engine.label.printed_label import parse_guarantees

SOURCES = (
    LabelSource("urea-triazone solution", {"N.slow": 1.0, "N.urea": 1.0}),
    LabelSource("potassium acetate", {"K2O": 1.0}),
    LabelSource("iron EDTA", {"Fe": 1.0}),
)
shares = st.one_of(st.floats(0.0, 9.9), st.integers(0, 990).map(lambda n: n / 100), st.just(0.0))
forms = st.fixed_dictionaries(dict.fromkeys(NITROGEN_FORMS, shares))
analyses = st.dictionaries(
    st.sampled_from(ANALYSIS_KEYS),
    st.one_of(st.floats(0.0, 5.0), st.floats(0.0, 0.2), st.integers(0, 500).map(lambda n: n / 100)),
)
kinds = st.sampled_from(["specialty", "commercial"])
states = st.sampled_from([None, *GRADE_RULES])


def label_of(analysis, kind="specialty", state=None, **more):
    return draft_label(LabelBasis(analysis, kind, SOURCES, 10.7, 265.0, jurisdiction=state, **more))


def lines(label):
    return {line.key: line.pct for line in label.guarantees}


def held(analysis, key):
    return Decimal(content_pct(analysis, key)) + Decimal(repr(PRECISION_PCT))


def claimed(label):
    statement = label.slow_release_statement
    return Decimal(statement.split("%")[0]) if statement else Decimal(0)


@given(analyses, kinds, states)
@settings(max_examples=120)
def test_no_printed_line_exceeds_the_analysis(analysis, kind, state):
    label = label_of(analysis, kind, state)
    printed = {
        **lines(label),
        **{item.key: item.pct for item in label.other_ingredients},
        "slow": claimed(label),
    }
    slow = printed.pop("slow")
    for key, pct in printed.items():
        assert 0 < pct <= held(analysis, key)
    assert slow <= held(analysis, "N.slow") + held(analysis, "N.insoluble")


@given(forms, kinds, states)
@settings(max_examples=120)
def test_nitrogen_forms_add_up_to_a_total_that_loses_less_than_its_step(analysis, kind, state):
    # Florida 5E-1.003(1)(b): the nitrogen breakdown sums to total nitrogen.
    printed = lines(label_of(analysis, kind, state))
    total = printed.pop("N", Decimal(0))
    assert sum(printed.values()) == total
    loss = Decimal(content_pct(analysis, "N")) - total
    assert loss < (1 if kind == "commercial" or state else Decimal("0.1"))
    for form, pct in printed.items():
        assert 0 < pct <= held(analysis, form)


@given(st.integers(1, 400), st.lists(st.floats(0.01, 1.0), min_size=1, max_size=5))
def test_a_product_that_holds_a_printable_total_prints_it_however_it_is_made_up(tenths, weights):
    total = tenths / 10
    analysis = {
        form: total * weight / sum(weights)
        for form, weight in zip(NITROGEN_FORMS, weights, strict=False)
    }
    assert lines(label_of(analysis))["N"] == Decimal(tenths) / 10
    # As a formulation states its analysis: every form rounded to millionths.
    stated = {form: round(pct, 6) for form, pct in analysis.items()}
    assert lines(label_of(stated))["N"] == Decimal(tenths) / 10


def decimals_of(pct):
    return max(0, -pct.normalize().as_tuple().exponent)


@given(st.integers(10, 400), st.lists(st.integers(1, 10**6), min_size=1, max_size=5), st.data())
@settings(max_examples=150)
def test_forms_take_more_than_three_decimals_only_where_three_cannot_add_up(tenths, parts, data):
    """Worked out here in millionths: rounded down to thousandths, the total is not reached."""
    over = data.draw(st.sampled_from([0, 0, 1_000, 5_000, 20_000]))
    wanted = tenths * 100_000 + over
    keys = NITROGEN_FORMS[: len(parts)]
    millionths = [wanted * part // sum(parts) for part in parts]
    millionths[0] += wanted - sum(millionths)
    analysis = {key: n / 10**6 for key, n in zip(keys, millionths, strict=True)}
    printed = lines(label_of(analysis))
    total = printed.pop("N")
    assert total == Decimal(tenths) / 10 == sum(printed.values())
    assert all(pct <= held(analysis, form) for form, pct in printed.items())
    in_thousandths = sum(n // 1_000 for n in millionths)
    if max(decimals_of(pct) for pct in printed.values()) > 3:
        assert in_thousandths < tenths * 100


@given(st.integers(10, 400), st.lists(st.integers(1, 10**6), min_size=1, max_size=3))
@settings(max_examples=150)
def test_a_hundredth_more_for_each_form_prints_hundredths(tenths, parts):
    """What the hint promises, whatever the recipe makes of it."""
    keys = ("N.ammoniacal", "N.nitrate", "N.urea")[: len(parts)]
    asked = tenths / 10 + 0.01 * len(keys)
    analysis = {
        key: round(asked * part / sum(parts), 6) for key, part in zip(keys, parts, strict=True)
    }
    printed = lines(label_of(analysis))
    assert printed.pop("N") >= Decimal(tenths) / 10
    assert all(decimals_of(pct) <= 2 for pct in printed.values())


@given(forms, st.sampled_from(["N.slow", "N.insoluble"]), st.floats(0.0, 9.0), kinds)
@settings(max_examples=120)
def test_more_slow_nitrogen_never_claims_less(analysis, form, more, kind):
    richer = {**analysis, form: analysis[form] + more}
    assert claimed(label_of(richer, kind)) >= claimed(label_of(analysis, kind))


@given(
    forms,
    st.sampled_from(["N.ammoniacal", "N.nitrate", "N.urea"]),
    st.sampled_from(["N.slow", "N.insoluble"]),
    st.floats(0.0, 1.0),
    kinds,
)
@settings(max_examples=120)
def test_quick_nitrogen_made_slow_never_claims_less(analysis, quick, slow, part, kind):
    moved = analysis[quick] * part
    shifted = {**analysis, quick: analysis[quick] - moved, slow: analysis[slow] + moved}
    assert claimed(label_of(shifted, kind)) >= claimed(label_of(analysis, kind))


@given(analyses, kinds, states)
@settings(max_examples=120)
def test_the_printed_lines_read_back_as_the_guarantees(analysis, kind, state):
    parts = {key: analysis[key] / 2 for key in ("Fe", "Zn", "Mn") if key in analysis}
    label = label_of(analysis, kind, state, chelated=parts)
    assert parse_guarantees(as_text(label)) == label.guarantees


@given(analyses, kinds)
def test_lines_stand_in_the_order_of_the_uniform_label(analysis, kind):
    wholes = [line.key for line in label_of(analysis, kind).guarantees if line.parent is None]
    assert wholes == sorted(wholes, key=NUTRIENTS.index)


@given(analyses, st.data())
@settings(max_examples=120)
def test_lowered_labels_are_still_true_and_add_up(analysis, data):
    label = label_of(analysis)
    if not label.guarantees:
        return
    line = data.draw(st.sampled_from(label.guarantees))
    if line.parent is None and line.key not in ("N", "P2O5", "K2O"):
        change = LabelChange(line.key, None, "not wanted")
    else:
        factor = data.draw(st.decimals("0.3", "1", places=2))
        change = LabelChange(line.key, line.pct * factor, "to be safe")
    changed = with_changes(label, [change])
    before, after = lines(label), lines(changed)
    assert all(pct <= before[key] for key, pct in after.items())
    assert after.get(line.key, 0) <= (change.pct or 0)
    nitrogen = [after[form] for form in NITROGEN_FORMS if form in after]
    assert sum(nitrogen) == after.get("N", 0)
    assert {entry.key for entry in changed.changes} >= {k for k in before if k not in after}
    again = with_changes(replace(changed), [])
    assert again == changed


def test_a_form_short_of_a_hundredth_by_noise_alone_has_reached_it():
    # Two millionths of a percent are noise, three are not.
    assert read_form(7.839998) == 7_840_000
    assert read_form(7.839997) == 7_839_997
