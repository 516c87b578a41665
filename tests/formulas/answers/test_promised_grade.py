"""What a blend is called: a promise that a weighed load keeps."""

import pytest

from formulas.answers.promised_grade import promised_grade
from formulas.answers.wish import Wish

#: Half UAN 32 and half water hold 16.0 %; with one weight 0.5 % low and the other 0.5 % high it
#: is 32 x 0.995 / (0.995 + 1.005) = 15.92 %, worked by hand.
HALF_UAN = {"N.urea": 8.2, "N.ammoniacal": 3.9, "N.nitrate": 3.9}


@pytest.mark.parametrize(
    ("targets", "analysis", "grade"),
    [
        ([], HALF_UAN, "15.8-0-0"),
        ([{"nutrient": "N", "min": 16}], HALF_UAN, "16-0-0"),
        ([{"nutrient": "N", "min": 15.5}], HALF_UAN, "15.5-0-0"),
        ([{"nutrient": "N", "max": 20}], HALF_UAN, "15.8-0-0"),
        ([{"nutrient": "N", "min": 16}], {**HALF_UAN, "K2O": 3.04}, "16-0-3"),
        ([{"nutrient": "N", "min": 16}], {**HALF_UAN, "K2O": 3.0}, "16-0-2.9"),
        ([{"nutrient": "K2O", "min": 3}], {"K2O": 3.4}, "0-0-3"),
        ([], {}, "0-0-0"),
    ],
)
def test_the_wish_where_there_is_one_else_what_any_load_holds(targets, analysis, grade):
    assert promised_grade(Wish.from_json({"targets": targets}), analysis) == grade


def test_a_form_of_nitrogen_is_no_wish_for_its_total():
    wish = Wish.from_json({"targets": [{"nutrient": "N.urea", "min": 8}]})
    assert promised_grade(wish, HALF_UAN) == "15.8-0-0"
