"""Figures of a paper stand beside each other so that both are true."""

import pytest

from orders.papers.wording import against


@pytest.mark.parametrize(
    ("guaranteed", "found", "printed"),
    [
        (24.0, 24.31, ("24.00", "24.31")),
        (24.0, 24.0, ("24.00", "24.00")),
        (24.0, 23.998, ("24.000", "23.998")),  # never "24.00 of 24.00" and yet below
        (24.0, 23.99996, ("24.0000", "24.0000")),  # beyond what a paper can show
        (0.035, 0.0354, ("0.035", "0.035")),
        (1234.5, 1300.0, ("1,234.50", "1,300.00")),
    ],
)
def test_a_guarantee_and_what_was_found_are_printed_in_as_few_places_as_are_true(
    guaranteed, found, printed
):
    assert against(guaranteed, found) == printed
