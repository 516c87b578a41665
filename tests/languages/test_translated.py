"""Every text of the rooms a customer sees has its Spanish, whole and with its placeholders."""

import re
from collections import Counter
from string import Formatter

import pytest
from babel.messages.catalog import Catalog
from babel.messages.catalog import Message as Entry

from blendshop.languages import messages
from blendshop.languages.messages import (
    Message,
    brought_up_to_date,
    catalogue,
    is_translated,
    messages_of_rooms,
)

_OLD_STYLE = re.compile(r"%\((\w+)\)[sd]|%%")
_TAG = re.compile(r"</?\w+")


@pytest.fixture(scope="module")
def found():
    return list(messages_of_rooms())


@pytest.fixture(scope="module")
def spanish():
    return catalogue()


def entry_of(kept, message):
    return kept.get(message.words, message.context)


def test_every_text_of_the_rooms_has_its_spanish(found, spanish):
    assert len(found) > 900
    missing = {
        (message.file, message.words)
        for message in found
        if (entry := entry_of(spanish, message)) is None or not is_translated(entry)
    }
    assert missing == set(), "run `make messages` and translate what it names"


def holes(text):
    """What a text leaves open: placeholders of either kind, and elements."""
    old = [match.group() for match in _OLD_STYLE.finditer(text)]
    try:
        new = [name for _text, name, _form, _how in Formatter().parse(text) if name is not None]
    except ValueError:  # a brace that is none of ours
        new = []
    return Counter([*old, *new, *_TAG.findall(text)])


def forms(entry):
    """Each original with its Spanish; of a plural, the Spanish beside singular or plural."""
    if isinstance(entry.id, str):
        return [(entry.id, entry.string)]
    singular, plural = entry.id
    one, *many = entry.string
    return [(singular, one), *((plural, each) for each in many)]


def test_the_spanish_has_the_same_holes_as_the_english(spanish):
    differing = [
        (english, words)
        for entry in spanish
        if entry.id
        for english, words in forms(entry)
        if holes(english) != holes(words)
    ]
    assert differing == []


def test_a_text_begins_and_ends_with_the_lines_of_its_original(spanish):
    """Mails are plain text: a line break is part of what is said."""
    for entry in spanish:
        for english, words in forms(entry) if entry.id else ():
            assert english.startswith("\n") == words.startswith("\n"), english
            assert english.endswith("\n") == words.endswith("\n"), english
            assert english.count("\n") == words.count("\n"), english


def test_the_check_itself_sees_what_is_missing():
    assert not is_translated(Entry("Lots", ""))
    assert not is_translated(Entry("Lots", "Lotes", flags=("fuzzy",)))
    assert not is_translated(Entry(("{n} lot", "{n} lots"), ("{n} lote", "")))
    assert is_translated(Entry("Lots", "Lotes"))
    assert holes("{n} of <b>%(m)s</b>") != holes("{n} de %(m)s")


def test_gathering_keeps_the_spanish_there_is_and_what_is_no_longer_said(monkeypatch):
    said = [Message("Lots", None, "a.html"), Message(("{n} tank", "{n} tanks"), None, "a.html")]
    monkeypatch.setattr(messages, "messages_of_rooms", lambda: iter(said))
    kept = Catalog(locale="es")
    kept.add("Lots", "Lotes")
    kept.add("Quotes", "Cotizaciones")
    now = brought_up_to_date(kept)
    assert now.get("Lots").string == "Lotes"
    assert not is_translated(now.get("{n} tank"))
    assert now.get("Quotes") is None
    assert now.obsolete["Quotes"].string == "Cotizaciones"
    said.append(Message("Quotes", None, "b.html"))
    assert brought_up_to_date(now).get("Quotes").string == "Cotizaciones"


@pytest.mark.parametrize(
    ("source", "words"),
    [
        ('{% translate "Lots" %}', ["Lots"]),
        ('<p>\n  {% if x %}\n    {{ day|date:_("M j") }}{% endif %}', ["M j"]),
        (
            "{% blocktranslate count n=n %}1 lot{% plural %}{{ n }} lots{% endblocktranslate %}",
            [("1 lot", "%(n)s lots")],
        ),
    ],
)
def test_words_are_found_in_templates(tmp_path, settings, source, words):
    settings.BASE_DIR = tmp_path
    file = tmp_path / "page.html"
    file.write_text(source)
    assert [message.words for message in messages._messages_of(file)] == words
