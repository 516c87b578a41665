"""No text of a customer's room is left unmarked in a module or a script.

Templates, their attributes and forms are read by ``tests/whole_site/test_translatable.py``; here
are refusals, messages, labels of fields and choices in modules, and what scripts would show.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import pytest
from django.conf import settings

from blendshop.languages.choice import Choice, written_in
from blendshop.languages.rooms import OF_THE_PLANT, ROOMS
from blendshop.number_fields import CountField, NumberField, PctField

ROOT: Final = Path(settings.BASE_DIR)
#: Told to whoever programs, never to a reader.
PROGRAMMERS: Final = frozenset(
    {"ValueError", "TypeError", "RuntimeError", "LookupError", "FieldError", "CommandError"}
)
REFUSALS: Final = re.compile(r"(?:Error|BadInput|IllegalMove|NotAllowed|Refused|StillComputing)$")
MESSAGES: Final = frozenset({"success", "error", "warning", "info", "add_error"})
#: Arguments and keys that a reader sees the value of.
SEEN: Final = frozenset(
    {"label", "empty_label", "invalid", "required", "min_value", "max_value", "max_length"}
    | {"placeholder", "aria-label", "title", "message", "detail", "reason"}
)
#: Help texts of models are read in the back office; papers are issued by people of the plant.
NOT_READ: Final = ("/migrations/", "/management/", "orders/models/", "orders/papers/gather_")
SCRIPTS: Final = ("crew/cups.js", "crew/draft.js", "crew/phone.js", "idle.js", "forget.js")


def unmarked_in_module(source: str) -> Iterator[str]:
    """Plain strings where a reader would see them."""
    for node in ast.walk(ast.parse(source)):
        yield from filter(None, map(words, seen_in(node)))


def seen_in(node: ast.AST) -> Iterator[ast.expr]:
    """What of this part of a module a reader sees: said, called, or named beside a choice."""
    if isinstance(node, ast.Call):
        name = getattr(node.func, "id", getattr(node.func, "attr", ""))
        if REFUSALS.search(name) and name not in PROGRAMMERS:
            yield from node.args
        if name in MESSAGES:
            yield from node.args[1:]
        yield from (each.value for each in node.keywords if each.arg in SEEN)
    elif isinstance(node, ast.Dict):
        pairs = zip(node.keys, node.values, strict=True)
        yield from (text for key, text in pairs if getattr(key, "value", None) in SEEN)
    elif isinstance(node, ast.ClassDef) and "Choices" in "".join(map(ast.unparse, node.bases)):
        assigned = (line.value for line in node.body if isinstance(line, ast.Assign))
        for value in assigned:
            yield from value.elts[1:] if isinstance(value, ast.Tuple) else ()


def words(node: ast.expr) -> str:
    """The text of a plain string, or of the plain parts of a formatted one."""
    parts = node.values if isinstance(node, ast.JoinedStr) else [node]
    text = "".join(
        part.value
        for part in parts
        if isinstance(part, ast.Constant) and isinstance(part.value, str)
    )
    return text if re.search(r"[A-Za-z]{3,}", text) else ""


def modules() -> Iterator[Path]:
    for room in ROOMS:
        path = ROOT / room
        for file in [path] if path.is_file() else sorted(path.rglob("*.py")):
            name = str(file.relative_to(ROOT))
            is_read = not any(part in f"{name}" for part in NOT_READ)
            if file.suffix == ".py" and is_read and name not in OF_THE_PLANT:
                yield file


#: Each language is offered under its own name.
OWN_NAMES: Final = {"English", "Español"}


def test_no_module_of_a_customer_s_room_shows_a_plain_string():
    read = list(modules())
    assert len(read) > 150
    found = {
        (str(file.relative_to(ROOT)), text)
        for file in read
        for text in unmarked_in_module(file.read_text())
        if text not in OWN_NAMES
    }
    assert found == set()


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ('raise BadInput("No such place.")', ["No such place."]),
        ('raise IllegalMove(f"{number} is closed")', [" is closed"]),
        ('form.add_error("day", "On which day?")', ["On which day?"]),
        ('messages.success(request, "Saved.")', ["Saved."]),
        ('CharField(label="State")', ["State"]),
        ('CharField(error_messages={"invalid": "Type a day."})', ["Type a day."]),
        ('class Kind(models.TextChoices):\n    QUOTE = "quote", "quote"', ["quote"]),
        ('raise BadInput(_("No such place."))', []),
        ('class Kind(models.TextChoices):\n    QUOTE = "quote", _("quote")', []),
        ('raise ValueError("never seen")', []),
    ],
)
def test_the_check_itself_sees_a_plain_string(source, found):
    assert list(unmarked_in_module(source)) == found


def spoken(script: str) -> list[str]:
    """Strings of a script that are words to read: capitalised, several of them."""
    script = re.sub(r"//[^\n]*|/\*.*?\*/", "", script, flags=re.DOTALL)
    return re.findall(r"[\"'`]([A-Z][a-z]+ [a-z][^\"'`\n]*)[\"'`]", script)


def test_scripts_of_a_customer_s_pages_take_their_words_from_the_page():
    for name in SCRIPTS:
        assert spoken((ROOT / "blendshop/static/shop" / name).read_text()) == [], name
    assert spoken('say("No network: try again")') == ["No network: try again"]


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        (NumberField(), "x"),
        (NumberField(), ""),
        (NumberField(), "1,5"),
        (PctField(label="N"), "101"),
        (CountField(), "x"),
        (CountField(min_value=1), "0"),
        (CountField(max_value=1), "2"),
    ],
)
def test_what_a_figure_is_refused_for_is_said_in_spanish(field, typed):
    def refused():
        try:
            field.clean(typed)
        except Exception as error:  # noqa: BLE001 - whatever it says is what counts
            return str(error)
        raise AssertionError(typed)

    with written_in(Choice("es", "us")):
        spanish = refused()
    assert spanish != refused()
