"""The day on one page."""

from __future__ import annotations

from datetime import date
from typing import Any, Final

from blendshop.accounts.models import User
from blendshop.roles import has_role
from orders.scales.actions import VERIFIERS
from orders.scales.standing import ScaleState, standings
from orders.shift.due import due_orders
from orders.shift.forms import NoteForm
from orders.shift.handover import newest_notes
from orders.shift.samples import MOST_OF_THE_DAY, samples_today
from orders.shift.short import short_stocks
from orders.shift.tanks_today import begun_batches, tanks_today
from orders.shift.undone import Undone, left_undone
from orders.shift.unsent import unsent_reports

_NOTES: Final = 5


def undone_today() -> list[Undone]:
    """Everything that somebody has still to do."""
    begun = begun_batches()
    return left_undone(begun, tanks_today(begun), unsent_reports())


def day_page(user: User, today: date) -> dict[str, Any]:
    """What the shift has to know, in the order it asks."""
    begun = begun_batches()
    tanks = tanks_today(begun)
    planned = [change.batch for tank in tanks for change in tank.coming]
    scales = standings([tank.tank for tank in tanks], today)
    return {
        "today": today,
        "tanks": tanks,
        "due": due_orders(user, today),
        "short": short_stocks(begun, planned, today),
        "undone": left_undone(begun, tanks, unsent_reports()),
        "scales": scales,
        "scales_due": [each for each in scales if each.is_due],
        "are_scales_written_down": any(each.state is not ScaleState.NEVER for each in scales),
        "samples": samples_today(today, MOST_OF_THE_DAY),
        "notes": newest_notes(user, _NOTES),
        "note_form": NoteForm(auto_id="note_%s"),
        "may_sign": has_role(user, *VERIFIERS),
    }
