"""The words of the rooms a customer sees: found in their sources, and their Spanish.

Templates are read by Django's own ``templatize``, what that leaves and Python modules by Babel. The
translations stand in ``blendshop/locale/es/LC_MESSAGES/django.po``; ``compiled`` makes of it what
Django reads.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Final

from babel.messages.catalog import Catalog
from babel.messages.catalog import Message as Entry
from babel.messages.extract import extract
from babel.messages.pofile import read_po, write_po
from django.conf import settings
from django.utils.translation.template import templatize

from blendshop.languages.rooms import OF_THE_PLANT, ROOMS

#: The functions that mark a word, by which of their arguments are words, ``c`` for its context.
KEYWORDS: Final = {
    "_": None,
    "gettext": None,
    "gettext_lazy": None,
    "gettext_noop": None,
    "ngettext": (1, 2),
    "ngettext_lazy": (1, 2),
    "pgettext": ((1, "c"), 2),
    "pgettext_lazy": ((1, "c"), 2),
    "npgettext": ((1, "c"), 2, 3),
}
#: What carries words of a room: modules, pages, mails.
_SUFFIXES: Final = (".py", ".html", ".txt")
PO: Final = Path("blendshop/locale/es/LC_MESSAGES/django.po")

HEADER: Final = """\
# Spanish of Blendshop, for customers and crews in the United States.
# The house's own translation; no person has checked it yet (settings.SPANISH_CHECKED_BY).
# New texts are put in by `make messages`."""

Words = str | tuple[str, ...]


@dataclass(frozen=True)
class Message:
    """One text, or its singular and plural, and the file it stands in (from the root)."""

    words: Words
    context: str | None
    file: str


def messages_of_rooms() -> Iterator[Message]:
    """Every marked text of the rooms, in the order of their files."""
    others = {settings.BASE_DIR / name for name in OF_THE_PLANT}
    for room in ROOMS:
        path = settings.BASE_DIR / room
        found = [path] if path.is_file() else sorted(path.rglob("*"))
        files = [file for file in found if file.suffix in _SUFFIXES and file not in others]
        if not files:
            raise ValueError(f"Nothing of the room {room} carries words.")
        for file in files:
            yield from _messages_of(file)


def _messages_of(file: Path) -> Iterator[Message]:
    name = str(file.relative_to(settings.BASE_DIR))
    source = file.read_text()
    if file.suffix != ".py":
        lines = templatize(source, origin=name).splitlines()
        source = "\n".join(map(str.strip, lines))  # Python's tokenizer minds where a line begins
    read = BytesIO(source.encode())
    for _line, words, _comments, context in extract("python", read, keywords=KEYWORDS):
        yield Message(words if isinstance(words, str) else tuple(words), context, name)


def catalogue() -> Catalog:
    """The Spanish as it is kept."""
    with (settings.BASE_DIR / PO).open("rb") as kept:
        return read_po(kept, locale="es", domain="django")


def brought_up_to_date(kept: Catalog) -> Catalog:
    """The texts of the rooms as they are now, each with its Spanish where there is one."""
    now = Catalog(
        locale="es",
        domain="django",
        project="Blendshop",
        header_comment=HEADER,
        fuzzy=False,
        creation_date=kept.creation_date,
        revision_date=kept.revision_date,
    )
    for message in messages_of_rooms():
        known = kept.get(message.words, message.context) or _given_up(kept, message)
        now.add(
            message.words,
            known.string if known else None,
            locations=[(message.file, 0)],
            flags=known.flags if known else (),
            user_comments=known.user_comments if known else (),
            context=message.context,
        )
    said_no_more = [each for each in kept if each.id and now.get(each.id, each.context) is None]
    for each in said_no_more:
        now.obsolete[_key(each.id, each.context)] = each
    for key, each in kept.obsolete.items():
        if now.get(each.id, each.context) is None:
            now.obsolete.setdefault(key, each)
    return now


def _given_up(kept: Catalog, message: Message) -> Entry | None:
    """What was said before and is said again has its Spanish still."""
    return kept.obsolete.get(_key(message.words, message.context))


def _key(words: Words | list[str], context: str | None) -> str | tuple[str, str]:
    """How a catalogue keeps a text: by the singular, with its context where it has one."""
    singular = words if isinstance(words, str) else words[0]
    return (singular, context) if context else singular


def is_translated(entry: Entry) -> bool:
    """Whether it has its Spanish, each form of it, and none that a person doubts."""
    forms = (entry.string,) if isinstance(entry.string, str) else tuple(entry.string or ("",))
    return all(forms) and not entry.fuzzy


def keep(catalog: Catalog) -> None:
    with (settings.BASE_DIR / PO).open("wb") as file:
        write_po(file, catalog, width=100, include_lineno=False, sort_by_file=True)
