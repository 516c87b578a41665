"""Whatever the analysis: true, adding up, rounded once, and read back as printed."""

from dataclasses import replace
from decimal import ROUND_FLOOR, Decimal

from hypothesis import given, settings
from hypothesis import strategies as st

from formulas.engine.composition import ANALYSIS_KEYS, NITROGEN_FORMS, NUTRIENTS, content_pct
from formulas.engine.label.grade_rules import GRADE_RULES, grade_rule
from formulas.engine.label.guarantee import (
    LabelBasis,
    LabelChange,
    LabelSource,
    draft_label,
    with_changes,
)
from formulas.engine.label.printed_figures import PRECISION_PCT, read_form
from formulas.engine.label.rules import Kind
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
def test_nitrogen_forms_add_up_to_all_that_their_floors_carry(analysis, kind, state):
    # Florida 5E-1.003(1)(b): the nitrogen breakdown sums to total nitrogen.
    printed = lines(label_of(analysis, kind, state))
    total = printed.pop("N", Decimal(0))
    assert sum(printed.values()) == total
    carried = sum(floor_of(analysis[form]) for form in analysis)
    assert 0 <= carried - total < (1 if kind == "commercial" or state else Decimal("0.1"))
    for form, pct in printed.items():
        assert 0 < pct <= held(analysis, form)
        assert decimals_of(pct) <= 2


def decimals_of(pct):
    return max(0, -pct.normalize().as_tuple().exponent)


def floor_of(pct):
    """Hundredths by another road: decimal text, two millionths of noise."""
    read = Decimal(f"{pct:.6f}")
    return (read + Decimal("0.000002")).quantize(Decimal("0.01"), rounding=ROUND_FLOOR)


@given(forms, kinds, states, st.integers(1, 4900).map(lambda n: n / 100), analyses)
@settings(max_examples=200)
def test_a_wished_total_prints_in_the_states_decimals_wherever_the_floors_carry_it(
    nitrogen, kind, state, wish, others
):
    analysis = {**others, **nitrogen}
    label = label_of(analysis, kind, state, promised={"N": wish, "K2O": 1.5})
    printed = lines(label)
    parts = [printed[form] for form in NITROGEN_FORMS if form in printed]
    assert sum(parts) == printed.get("N", 0)
    carried = sum(floor_of(nitrogen[form]) for form in nitrogen)
    decimals = grade_rule(state).decimals(min(wish, float(carried)), Kind(kind))
    wanted = min(carried, Decimal(repr(wish))).quantize(
        Decimal(1).scaleb(-decimals), rounding=ROUND_FLOOR
    )
    assert printed.get("N", 0) == wanted
    assert printed.get("K2O", 0) <= Decimal("1.5")
    if content_pct(analysis, "K2O") >= 1.5 and grade_rule(state).decimals(1.5, Kind(kind)) == 1:
        assert printed["K2O"] == Decimal("1.5")


@given(analyses, kinds, states)
@settings(max_examples=150)
def test_no_line_has_more_decimals_than_labels_show(analysis, kind, state):
    label = label_of(analysis, kind, state, promised={"Cl": 0.1})
    for line in (*label.guarantees, *label.other_ingredients):
        most = {"Co": 4, "Mo": 4, "Ni": 4, "NBPT": 3, "DCD": 3}.get(line.key, 2)
        _, _, after = line.printed.partition(".")
        assert len(after) <= most
        assert line.pct == Decimal(line.printed)
    if label.slow_release_statement:
        slow = [g for g in label.guarantees if g.key in ("N.slow", "N.insoluble")]
        assert claimed(label) == sum(line.pct for line in slow)
        if len(slow) == 1:
            assert label.slow_release_statement.startswith(f"{slow[0].printed}%")


@given(analyses, kinds, states)
@settings(max_examples=120)
def test_a_printed_label_drafted_again_prints_itself(analysis, kind, state):
    """From its own lines as analysis, and within its own lines for any richer load."""
    first = label_of(analysis, kind, state, promised={"Cl": 0.1})
    printed = {**lines(first), **{item.key: item.pct for item in first.other_ingredients}}
    own = {key: float(pct) for key, pct in printed.items() if key != "N"}
    again = label_of(own, kind, state, promised={"Cl": 0.1})
    assert lines(again) == lines(first)
    assert again.other_ingredients == first.other_ingredients
    richer = {key: min(9.9, pct * 1.07 + 0.05) for key, pct in analysis.items()}
    within = label_of(richer, kind, state, promised={"Cl": 0.1}, lines=printed)
    if any(key in printed for key in NITROGEN_FORMS) or not any(
        richer.get(form, 0) > 0 for form in NITROGEN_FORMS
    ):
        assert lines(within) == lines(first)


@given(st.integers(10, 400), st.lists(st.integers(1, 10**6), min_size=1, max_size=5))
@settings(max_examples=150)
def test_what_the_hint_says_is_enough_is_enough(tenths, parts):
    """A hundredth more for each form, however it is shared out; and the least one form needs."""
    keys = NITROGEN_FORMS[: len(parts)]
    exact = {key: tenths / 10 * part / sum(parts) for key, part in zip(keys, parts, strict=True)}
    label = label_of(exact)
    wanted = Decimal(tenths) / 10
    if lines(label).get("N", 0) < wanted:
        hint = label.hints[0]
        assert f"would let the label say {wanted.normalize():f}:" in hint.message
        enough = float(hint.message.split("for ")[-1].split(" %")[0])
        raised = {key: round(pct * enough / (tenths / 10), 6) for key, pct in exact.items()}
        assert lines(label_of(raised))["N"] >= wanted
        for key in keys:
            lifted = exact | {key: exact[key] + hint.more_pct}
            assert lines(label_of(lifted))["N"] >= wanted
    else:
        assert lines(label)["N"] == wanted


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
