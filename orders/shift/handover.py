"""Handover notes, newest first, and who has read each."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from blendshop.accounts.models import User
from orders.models import HandoverNote, HandoverRead


@dataclass(frozen=True, slots=True)
class Note:
    """A note as one person sees it; who wrote it has no need to read it."""

    note: HandoverNote
    reads: tuple[HandoverRead, ...]
    is_to_read: bool


def newest_notes(user: User, count: int) -> list[Note]:
    return as_seen(HandoverNote.objects.order_by("-pk")[:count], user)


def as_seen(notes: Iterable[HandoverNote], user: User) -> list[Note]:
    """The notes with their readers; two queries."""
    rows = list(notes)
    by_note: dict[int, list[HandoverRead]] = {note.pk: [] for note in rows}
    for read in HandoverRead.objects.filter(note__in=rows).order_by("pk"):
        by_note[read.note_id].append(read)
    return [
        Note(
            note,
            tuple(by_note[note.pk]),
            note.by_id != user.pk and all(read.by_id != user.pk for read in by_note[note.pk]),
        )
        for note in rows
    ]
