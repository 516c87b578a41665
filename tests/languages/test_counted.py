"""What is counted has its singular in Spanish, and a plant's trade words are read in its words."""

import re

import pytest
from django.utils.translation import ngettext

from blendshop.languages.choice import Choice, written_in
from blendshop.languages.messages import catalogue
from orders.crew_sheet import both_units
from orders.records.plant_words import package_words, payment_words

#: A figure, and behind it a noun in the plural.
_COUNTED = re.compile(
    r"(?:\{(?:count|days|seconds|years|quantity)\}|%\((?:count|days)\)s)"
    r" (?!de\b)\w+s\b"
)
#: Fixed figures above one, and what is asked only of many.
NEVER_ONE = {
    "This sheet has {count} records of the last day already; ask your office.",
    "A season has at most {count} rounds.",
    (
        "{volume} in bulk is more than the {most} all tanks make in {days} working days:"
        " is that meant?"
    ),
    (
        "{quantity} {packages} are {volume}, more than the {most} all tanks make in {days} working"
        " days: is that meant?"
    ),
    (
        "No price yet: the load of {volume} was not planned within {seconds} seconds."
        " Ask again in a moment."
    ),
    "Each nozzle gives in {seconds} seconds",
    "%(count)s reserved; today's acres ask for %(now)s",
}


def test_no_text_counts_without_its_singular():
    counting = {
        entry.id
        for entry in catalogue()
        if entry.id and isinstance(entry.string, str) and _COUNTED.search(entry.string)
    }
    assert counting - NEVER_ONE == set()
    assert _COUNTED.search("Más de {count} galones")


@pytest.mark.parametrize(
    ("one", "many", "count", "written"),
    [
        (
            "Full tank, {us} ({metric}): {count} time",
            "Full tank, {us} ({metric}): {count} times",
            1,
            "Tanque lleno, 5 gal (19 L): 1 vez",
        ),
        (
            "Full tank, {us} ({metric}): {count} time",
            "Full tank, {us} ({metric}): {count} times",
            2,
            "Tanque lleno, 5 gal (19 L): 2 veces",
        ),
        (
            "{state} asks to keep this record for {years} year.",
            "{state} asks to keep this record for {years} years.",
            1,
            "VA pide guardar este registro 1 año.",
        ),
    ],
)
def test_one_and_many(one, many, count, written):
    with written_in(Choice("es", "us")):
        words = ngettext(one, many, count)
    assert words.format(us="5 gal", metric="19 L", count=count, state="VA", years=count) == written


def test_a_measured_figure_stands_before_the_mark_of_its_unit():
    with written_in(Choice("es", "us")):
        assert both_units.volume(1.0) == both_units.Both("1.0 gal", "3.8 L")
        assert both_units.spray_rate(1.0).us == "1 gal por 1,000 pies²"
        assert both_units.caught(1.0).us == "1.0 fl oz"


@pytest.mark.parametrize(
    ("name", "count", "us", "metric"),
    [
        ("265 gal tote", 1, "tote de 265 gal", "tote de 1,003 L"),
        ("265 gal totes", 2, "totes de 265 gal", "totes de 1,003 L"),
        ("50 gal drums", 3, "tambores de 50 gal", "tambores de 189 L"),
        ("265 gal tote on deposit", 1, "tote de 265 gal con depósito", None),
        ("customer's own 265 gal totes", 2, "totes de 265 gal del cliente", None),
        ("bottle of our own", 1, "bottle of our own", "bottle of our own"),
    ],
)
def test_a_package_is_named_in_the_reader_s_words_and_units(name, count, us, metric):
    assert package_words(name, count) == name
    with written_in(Choice("es", "us")):
        assert package_words(name, count) == us
    with written_in(Choice("es", "metric")):
        # NIST Handbook 44, appendix C: a gallon is 3.785411784 L.
        assert metric is None or package_words(name, count) == metric


@pytest.mark.parametrize(
    ("terms", "written"),
    [
        ("net 30 days (demo)", "neto a 30 días (demo)"),
        ("Net 1", "neto a 1 día"),
        ("half before, half after", "half before, half after"),
    ],
)
def test_terms_of_payment_are_read_in_spanish(terms, written):
    assert payment_words(terms) == terms
    with written_in(Choice("es", "us")):
        assert payment_words(terms) == written
