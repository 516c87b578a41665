"""What a person is told after an action, and why it was refused, is marked in the rooms listed."""

import ast
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import pytest

ROOT: Final = Path(__file__).resolve().parents[2]
#: The others are marked when they are next rewritten.
MARKED_ROOMS: Final = (
    "blendshop",
    "formulas/blends",
    "formulas/jar_tests",
    "formulas/stocks",
    "orders/allocation",
    "orders/blend_page",
    "orders/buying",
    "orders/compliance",
    "orders/customers",
    "orders/drift",
    "orders/first_steps",
    "orders/inventory",
    "orders/labels",
    "orders/ordering",
    "orders/planning",
    "orders/portal",
    "orders/production",
    "orders/quoting",
    "orders/recall",
    "orders/records",
    "orders/reordering",
    "orders/requests",
    "orders/scales",
    "orders/season",
    "orders/shift",
    "orders/tanks",
)
#: Read by whoever starts the server, in a terminal.
AT_THE_SERVER: Final = {"database_address.py", "environment.py", "media_storage.py"}
REFUSALS: Final = {
    "BadInput",
    "ChangedMeanwhile",
    "IllegalMove",
    "NotAllowed",
    "NotSetUp",
    "ValidationError",
}
LEVELS: Final = {"error", "info", "success", "warning"}


def told(call: ast.Call) -> Iterator[ast.expr]:
    """The words of a call that end up on a page."""
    match call.func:
        case ast.Attribute(value=ast.Name(id="messages"), attr=level) if level in LEVELS:
            yield from call.args[1:2]
        case ast.Name(id="CellError"):  # its first word is the column
            yield from call.args[1:2]
        case ast.Name(id=name) | ast.Attribute(attr=name) if name in REFUSALS:
            yield from call.args[:1]
            for keyword in call.keywords:
                if keyword.arg == "fields" and isinstance(keyword.value, ast.Dict):
                    yield from keyword.value.values


def plain(words: ast.expr) -> bool:
    """Whether they are written out without being marked."""
    match words:
        case ast.IfExp(body=body, orelse=orelse):
            return plain(body) or plain(orelse)
        case ast.Constant(value=str(text)):
            return any(letter.isalpha() for letter in text)
        case ast.JoinedStr(values=values):
            return any(isinstance(each, ast.Constant) and plain(each) for each in values)
    return False


def unmarked(source: str) -> list[int]:
    """Lines on which a person is told something unmarked."""
    calls = (node for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Call))
    return [words.lineno for call in calls for words in told(call) if plain(words)]


@pytest.mark.parametrize("room", MARKED_ROOMS)
def test_a_marked_room_tells_a_person_nothing_unmarked(room: str) -> None:
    paths = sorted((ROOT / room).rglob("*.py"))
    assert paths
    paths = [path for path in paths if path.name not in AT_THE_SERVER]
    assert [
        f"{path.relative_to(ROOT)}:{line}" for path in paths for line in unmarked(path.read_text())
    ] == []


@pytest.mark.parametrize(
    ("source", "lines"),
    [
        ('messages.success(request, f"{number} is made.")', [1]),
        ('raise BadInput("Wrong.", fields={"lot": "No lot."})', [1, 1]),
        ('raise IllegalMove("Held." if held else _("Gone."))', [1]),
        ('messages.info(request, _("%(number)s is made.") % {"number": number})', []),
        ('raise BadInput(message, fields={"lot": f"{words} {more}"})', []),
    ],
)
def test_the_check_itself_sees_unmarked_words(source: str, lines: list[int]) -> None:
    assert unmarked(source) == lines
