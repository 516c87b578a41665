"""Reading a line: places of its words, odd characters, and what is written is read back."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blendshop.errors import BadInput
from formulas.engine.composition import SLOW_RELEASE
from formulas.spoken_wish.meanings import (
    Content,
    Gallons,
    Meaning,
    NitrogenRate,
    Packages,
    Pounds,
    PriceAtMost,
    SprayedIn,
    SprayTank,
    SprayVolume,
    Unit,
    Without,
)
from formulas.spoken_wish.reading import read_line
from formulas.spoken_wish.saying import say
from formulas.spoken_wish.sources import SOURCES
from formulas.spoken_wish.states import STATES
from formulas.spoken_wish.vocabulary import NAMES


def hundredths(most: int) -> st.SearchStrategy[float]:
    return st.integers(1, most * 100).map(lambda number: number / 100)


PERCENTS = hundredths(100)
LIMITS = st.one_of(
    st.tuples(PERCENTS, st.none()),
    st.tuples(st.none(), st.just(0.0) | PERCENTS),
    st.tuples(PERCENTS, PERCENTS).map(lambda pair: (min(pair), max(pair))),
)
CONTENTS = st.builds(
    lambda key, limits: Content(key, *limits), st.sampled_from([*NAMES, SLOW_RELEASE]), LIMITS
)
AMOUNTS: st.SearchStrategy[Meaning] = st.one_of(
    st.builds(
        Packages,
        st.integers(1, 400),
        st.sampled_from([Unit.TOTE, Unit.DRUM]),
        st.none() | hundredths(400),
    ),
    st.builds(Gallons, st.integers(10, 20_000).map(float)),
    st.builds(Pounds, st.integers(20, 80_000).map(float)),
)
BESIDE: st.SearchStrategy[Meaning] = st.one_of(
    st.builds(NitrogenRate, hundredths(3)),
    st.builds(SprayVolume, hundredths(9)),
    st.builds(SprayTank, st.integers(1, 900).map(float)),
    st.builds(SprayedIn, st.sampled_from(sorted(STATES))),
    st.builds(Without, st.sampled_from(sorted(set(SOURCES)))),
    st.builds(
        PriceAtMost,
        st.decimals(Decimal("0.01"), Decimal(9999), places=2),
        st.sampled_from(["gal", "tote"]),
    ),
)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(CONTENTS, max_size=5, unique_by=lambda content: content.key),
    AMOUNTS,
    st.lists(BESIDE, max_size=3, unique_by=type),
)
def test_what_is_written_as_a_line_is_read_back_the_same(
    contents: list[Content], amount: Meaning, beside: list[Meaning]
) -> None:
    meanings = [*contents, amount, *beside]
    heard = read_line(", ".join(say(meaning) for meaning in meanings))
    assert heard.is_clear, heard.open_points
    assert [said.meaning for said in heard.said] == meanings


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=60))
def test_any_text_is_read_or_refused_and_every_phrase_keeps_its_place(line: str) -> None:
    try:
        heard = read_line(line)
    except BadInput:
        return
    for phrase in (*heard.said, *heard.open_points):
        assert phrase.words == line[phrase.start : phrase.end] != ""


def test_fractions_wide_digits_and_spaces_that_do_not_break_are_read() -> None:
    heard = read_line("２４\u00a0% N,\u200b ⅓ slow")
    assert [said.meaning for said in heard.said] == [
        Content("N", 24.0),
        Content(SLOW_RELEASE, 33.3333),
    ]


@pytest.mark.parametrize("line", ["24-0-3 \x00", "24-0-3\x1b[2J", "N " * 5000, "\ud800 24-0-3"])
def test_what_is_no_line_is_refused(line: str) -> None:
    with pytest.raises(BadInput):
        read_line(line)


@pytest.mark.parametrize("line", ["1 " * 200, "N " * 200, "½" * 400, "9" * 400, "9/" * 200])
def test_a_line_of_nothing_but_figures_stays_open(line: str) -> None:
    assert not read_line(line[:400]).is_settled


def test_a_choice_settles_the_question_that_offered_it() -> None:
    line = "24-0-2, some iron, micros, 24,5 sulfur, 0,7 lb N, $8, 60/40, a few totes"
    for _ in range(7):
        question = read_line(line).questions[0]
        line = line[: question.start] + question.choices[0].words + line[question.end :]
        assert question.words not in {each.words for each in read_line(line).questions}


@pytest.mark.parametrize(
    "line",
    ["iron 2 oz", "iron 1 pint", "0.7 N per acre", "5 totes a month", "4 lb N per season",
     "$7/gal before freight", "$8/gal plus freight", "2 S gal", "1 metric ton", "double strength"],
)  # fmt: skip
def test_a_word_that_changes_its_figure_leaves_the_line_unsettled(line: str) -> None:
    assert not read_line(f"24-0-3 {line}").is_settled


@pytest.mark.parametrize("line", ["4 totes next month", "4 totes, Bob says", "soon 4 totes"])
def test_a_word_beside_no_figure_does_not(line: str) -> None:
    heard = read_line(f"24-0-3 {line}")
    assert heard.is_settled
    assert heard.unclear
