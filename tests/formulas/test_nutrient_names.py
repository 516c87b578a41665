"""Every key that a wish or an analysis may name has its words on pages and papers."""

from formulas.engine.composition import NAMES, SHORT_NAMES, SLOW_RELEASE, WISH_KEYS, guarantee_name
from formulas.templatetags.nutrients import nutrient


def test_every_key_has_its_name_and_its_short_name():
    assert set(NAMES) == set(SHORT_NAMES) == set(WISH_KEYS)


def test_a_page_sets_oxides_with_subscripts_and_forms_in_words():
    assert [nutrient(key) for key in ("P2O5", "N.slow", "Fe", "humic_acid")] == [
        "P\u2082O\u2085",
        "Slow-release N (water soluble)",
        "Fe",
        "Humic acid",
    ]


def test_a_key_of_an_older_record_is_shown_as_it_stands():
    assert nutrient("Si") == guarantee_name("Si") == "Si"


def test_the_slow_release_share_is_a_guarantee_by_name():
    assert guarantee_name(SLOW_RELEASE) == "Slow-release share of nitrogen"
    assert guarantee_name("K2O") == "Soluble potash"
