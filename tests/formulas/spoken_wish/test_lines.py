"""What callers say means what a person would write down, or is asked back."""

import pytest

from formulas.spoken_wish.reading import read_line
from tests.formulas.spoken_wish.notation import asks_of, question_of
from tests.formulas.spoken_wish.phone_lines import PhoneLine, phone_lines


@pytest.mark.parametrize("spoken", phone_lines(), ids=lambda spoken: spoken.line)
def test_a_line_means_what_it_says(spoken: PhoneLine) -> None:
    heard = read_line(spoken.line)
    unclear = " ".join(each.words for each in heard.unclear)
    questions = sorted(question_of(each) for each in heard.questions)
    assert asks_of(heard) == spoken.asks
    assert (unclear, questions) == (" ".join(spoken.unclear), sorted(spoken.questions))
