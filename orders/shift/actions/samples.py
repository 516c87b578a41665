"""Samples of a batch: taken, kept, thrown out."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput, IllegalMove, NotAllowed
from blendshop.figures.readers import reader
from blendshop.roles import Role, has_role, require_role
from blendshop.saving import save_valid
from orders.inventory.holds import hold_words_by_batch
from orders.models import Batch, RetainedSample, SampleDiscarded
from orders.production.actions.charging import locked
from orders.tanks.actions.ledger import require_key

SAMPLERS: Final = (Role.PLANT, Role.FORMULATOR)
#: There is nothing to take a sample of before.
_MIXED: Final = (Batch.Status.MADE, Batch.Status.HELD, Batch.Status.RELEASED)


@dataclass(frozen=True, slots=True)
class Taken:
    """When it was taken, where it stands and until when."""

    taken_at: datetime
    kept_in: str
    keep_until: date
    note: str = ""


def take_sample(*, batch: Batch, taken: Taken, key: str, acting_user: User) -> RetainedSample:
    """Write down a sample. The same key again gives the row that is there.

    IllegalMove for a batch that is not mixed; BadInput without a place, or for days that cannot be.
    """
    require_role(acting_user, *SAMPLERS)
    require_key(key)
    if not taken.kept_in.strip():
        raise _refused("kept_in", _("Say where it is kept."))
    if taken.taken_at > timezone.now():
        raise _refused("taken_at", _("That is still to come."))
    if taken.keep_until < timezone.localdate(taken.taken_at):
        raise _refused("keep_until", _("That is before it was taken."))
    with transaction.atomic():
        batch = locked(batch)
        done: RetainedSample | None = RetainedSample.objects.filter(key=key).first()
        if done is not None:
            return done
        if batch.status not in _MIXED:
            raise IllegalMove(
                _("%(batch)s is %(state)s: there is nothing to take a sample of.")
                % {"batch": batch.number, "state": batch.get_status_display()}
            )
        row = RetainedSample(
            batch=batch,
            taken_at=taken.taken_at,
            kept_in=taken.kept_in.strip()[:120],
            keep_until=taken.keep_until,
            note=taken.note.strip()[:400],
            key=key,
            by=acting_user,
            who=str(acting_user),
        )
        return save_valid(row, acting_user)


def discard_sample(
    *, sample: RetainedSample, why: str, key: str, acting_user: User
) -> SampleDiscarded:
    """Write down that a sample is thrown out.

    NotAllowed before its day but for a formulator; IllegalMove while a recall or a lot on hold
    stops its batch, and for a sample that is gone already.
    """
    require_role(acting_user, *SAMPLERS)
    require_key(key)
    if not why.strip():
        raise _refused("why", _("Give a reason."))
    with transaction.atomic():
        sample = RetainedSample.objects.select_for_update().get(pk=sample.pk)
        done: SampleDiscarded | None = SampleDiscarded.objects.filter(key=key).first()
        if done is not None:
            return done
        if SampleDiscarded.objects.filter(sample=sample).exists():
            raise IllegalMove(_("This sample is thrown out already."))
        if hold := hold_words_by_batch([sample.batch_id]).get(sample.batch_id):
            raise IllegalMove(f"{hold} {_('Keep the sample until that is settled.')}")
        is_early = timezone.localdate() <= sample.keep_until
        if is_early and not has_role(acting_user, Role.FORMULATOR):
            raise NotAllowed(
                _("It is kept until %(day)s; only a formulator throws it out earlier.")
                % {"day": reader().date(sample.keep_until)}
            )
        row = SampleDiscarded(
            sample=sample,
            why=why.strip()[:400],
            key=key,
            by=acting_user,
            who=str(acting_user),
        )
        return save_valid(row, acting_user)


def _refused(name: str, message: str) -> BadInput:
    return BadInput(message, fields={name: message})
