"""The one way a quote, an order or a batch changes its state: checked, guarded, written down."""

from typing import Any

from django.db import connection
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import ChangedMeanwhile, IllegalMove
from orders.models import Batch, Order, Quote

Record = Quote | Order | Batch


def move(
    record: Record,
    to: str,
    *,
    acting_user: User | None,
    who: str = "",
    why: str = "",
    data: dict[str, Any] | None = None,
    **columns: Any,
) -> None:
    """Move ``record`` to the state ``to``, set ``columns``, and leave an event row.

    Runs inside the caller's transaction. Raises IllegalMove when MOVES does not hold the move
    and ChangedMeanwhile when the row is no longer in the state the caller saw.
    """
    require_move(record, to)
    old = record.status
    _require_transaction()
    # Guarded: the row must still be in the state we checked (select_for_update does not exist
    # on SQLite, and a read-then-save would let the slower of two people win).
    updated = type(record).objects.filter(pk=record.pk, status=old).update(status=to, **columns)
    if updated != 1:
        raise ChangedMeanwhile(
            _("Somebody else changed %(record)s meanwhile; look again.") % {"record": record.number}
        )
    record.status = to
    for name, value in columns.items():
        setattr(record, name, value)
    record.events.create(
        by=acting_user,
        who=who or str(acting_user),
        from_status=old,
        to_status=to,
        why=why[:400],
        data=data or {},
    )


def require_move(record: Record, to: str) -> None:
    """Raise IllegalMove, in a sentence, unless MOVES allows the record to become ``to``."""
    if to in record.MOVES[record.status]:
        return
    now, wanted = record.get_status_display(), str(type(record).Status(to).label)
    if record.status == to:
        raise IllegalMove(
            _("%(record)s is already %(now)s.") % {"record": record.number, "now": now}
        )
    raise IllegalMove(
        _("%(record)s is %(now)s; from there it cannot become %(wanted)s.")
        % {"record": record.number, "now": now, "wanted": wanted}
    )


def note(
    record: Record,
    *,
    acting_user: User | None,
    who: str = "",
    why: str,
    data: dict[str, Any] | None = None,
    new: bool = False,
) -> None:
    """Write an event without a change of state; ``new`` marks the record's first event."""
    _require_transaction()
    record.events.create(
        by=acting_user,
        who=who or str(acting_user),
        from_status="" if new else record.status,
        to_status=record.status,
        why=why[:400],
        data=data or {},
    )


def _require_transaction() -> None:
    if not connection.in_atomic_block:
        raise RuntimeError("A change and its event belong in one transaction.")
