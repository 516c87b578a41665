"""Every word of a page is translated, or is data: seen in a language that brackets what is marked.

Here a translation is its original with ⟦ and ⟧ around each piece of text between tags and
placeholders. What stands outside of them on a page has to be a value of the database, a figure
with its unit, or what a label calls a nutrient, which stays as the law writes it.
"""

import itertools
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from typing import Final

import pytest
from django.apps import apps
from django.db import models
from django.test import Client
from django.urls import reverse
from django.utils import translation
from django.utils.safestring import SafeString

from formulas.engine.composition import NAMES, SHORT_NAMES
from formulas.engine.label.metals import METALS
from formulas.engine.plant.scale_tolerance import SMALLEST_SOURCE, ScaleClass, tolerance_source
from tests.whole_site.route_arguments import arguments_of_routes

#: The permission matrix asks for the same pages of the same rows, on both databases.
pytestmark = [pytest.mark.django_db, pytest.mark.one_database]

#: Who looks at which pages. Not yet: the board and what a tank holds, whose words plans freeze;
#: a scale's own page cites its sources as they were published.
PAGES: Final = {
    "plant": (
        "batch_charge",
        "batch_detail",
        "batch_list",
        "batch_packages",
        "batch_paper",
        "batch_quality",
        "lot_detail",
        "lot_list",
        "lot_receive",
        "recall_customer",
        "recall_detail",
        "recall_list",
        "sample_list",
        "scale_list",
        "handover_notes",
        "stock_levels",
        "tank_detail",
        "tank_list",
        "trace",
    ),
    "formulator": (
        "batch_charge",
        "batch_quality",
        "lot_certificate",
        "lot_detail",
        "recall_detail",
        "recall_open",
        "season_plan",
        "tonnage",
    ),
    "office": ("batch_detail", "customer_list", "customer_new", "customer_terms", "tonnage"),
    "nobody": ("account_login", "account_reset_password", "account_logout"),
}
#: The same in every language: the product, symbols, the languages.
SAME: Final = re.compile(r"\b(?:Blendshop|English|Español|pH|CSV|PDF)\b")
_UNIT: Final = r"(?:lb/gal|fl oz|lb|gal|°F|ppm|in)"
#: A figure with its unit, or a day as the figures of the house write it (months are CLDR's).
_FIGURE: Final = re.compile(rf"\d[\d.,]* ?{_UNIT}(?![A-Za-z])|[A-Z][a-z]+ \d{{1,2}}, \d{{4}}")
_PIECE: Final = re.compile(r"(<[^>]*>|%\(\w+\)[sd]|\{\w*\})")
_MARKED: Final = re.compile("⟦[^⟦⟧]*⟧")
#: What a person has typed, or may change, is data.
_UNREAD: Final = ("script", "style", "textarea")
_ATTRIBUTES: Final = ("aria-label", "title", "alt", "placeholder")


def bracketed(message: str) -> str:
    """A message in the language of this file."""
    pieces = _PIECE.split(message)
    text = "".join(
        f"⟦{piece}⟧" if number % 2 == 0 and re.search(r"\w", piece) else piece
        for number, piece in enumerate(pieces)
    )
    return SafeString(text) if isinstance(message, SafeString) else text


class Reader(HTMLParser):
    """Collects what a person reads of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.texts: list[str] = []
        self._hidden = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._hidden += tag in _UNREAD
        self.texts += [value for name, value in attrs if name in _ATTRIBUTES and value]

    def handle_endtag(self, tag: str) -> None:
        self._hidden -= tag in _UNREAD

    def handle_data(self, data: str) -> None:
        if not self._hidden:
            self.texts.append(" ".join(data.split()))


def unmarked(html: str, data: re.Pattern[str]) -> set[str]:
    """The texts of a page that hold words outside the brackets which are no data."""
    reader = Reader()
    reader.feed(html)
    found = set()
    for text in reader.texts:
        left = SAME.sub("", _FIGURE.sub(" ", data.sub(" ", _MARKED.sub(" ", text))))
        if re.search("[A-Za-z]{2}", left):
            found.add(text)
    return found


def values() -> Iterator[str]:
    """Every text that stands in the database."""
    for model in apps.get_models():
        columns = [
            field.attname
            for field in model._meta.concrete_fields
            if isinstance(field, models.CharField | models.TextField | models.JSONField)
            and not field.choices
        ]
        for row in model._default_manager.values_list(*columns) if columns else ():
            yield from leaves(list(row))


def sources() -> Iterator[str]:
    """Where the tolerances of scales were read, and how far that may be trusted."""
    read = [
        SMALLEST_SOURCE,
        *(
            tolerance_source(each, is_acceptance=is_acceptance)
            for each, is_acceptance in itertools.product(ScaleClass, (False, True))
        ),
    ]
    for source in read:
        yield source.text
        yield source.mark.label


def leaves(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield " ".join(value.split())
    elif isinstance(value, dict):
        for each in value.values():
            yield from leaves(each)
    elif isinstance(value, list):
        for each in value:
            yield from leaves(each)


def data_pattern() -> re.Pattern[str]:
    """Any value of the database or name of a content, the longest that fits."""
    known = {*values(), *NAMES.values(), *SHORT_NAMES.values(), *METALS.values(), *sources()}
    found = {value for value in known if re.search("[A-Za-z]{2}", value)}
    any_of = "|".join(re.escape(value) for value in sorted(found, key=len, reverse=True))
    return re.compile(rf"(?<![A-Za-z])(?:{any_of})(?![A-Za-z])")


@pytest.fixture
def brackets(monkeypatch: pytest.MonkeyPatch) -> None:
    def many(singular: str, plural: str, number: int) -> str:
        return bracketed(singular if number == 1 else plural)

    monkeypatch.setattr(translation._trans, "gettext", bracketed)
    monkeypatch.setattr(translation._trans, "pgettext", lambda _context, text: bracketed(text))
    monkeypatch.setattr(translation._trans, "ngettext", many)
    monkeypatch.setattr(translation._trans, "npgettext", lambda _context, *words: many(*words))


def test_every_word_of_a_page_is_marked_or_is_data(
    world: dict[str, Client], brackets: None
) -> None:
    data = data_pattern()
    found, arguments = {}, arguments_of_routes()
    for who, routes in PAGES.items():
        for route in routes:
            response = world[who].get(reverse(route, kwargs=arguments(route)), follow=True)
            assert response.status_code == 200, route
            words = unmarked(response.content.decode(), data)
            if words:
                found[f"{route} for {who}"] = sorted(words)
    assert found == {}


@pytest.mark.parametrize(
    ("html", "words"),
    [
        ("<p>⟦Held⟧</p>", set()),
        ("<p>⟦Held:⟧ Smells</p>", {"⟦Held:⟧ Smells"}),
        ("<p>Tank A, 12,400 lb</p><script>words</script>", set()),
        ('<p title="Tank">⟦Tank⟧</p>', {"Tank"}),
        (bracketed("With <b>%(lot)s</b> take") % {"lot": "any"}, {"any"}),
    ],
)
def test_the_check_itself_sees_a_word_that_is_not_marked(html: str, words: set[str]) -> None:
    assert unmarked(html, re.compile("Tank A")) == words
