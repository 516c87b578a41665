"""Beginning long work, calling it off, beginning it anew."""

import hashlib
import json
from collections.abc import Mapping
from typing import Any

from django.core.files.base import ContentFile
from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import IllegalMove
from blendshop.long_work.actions.working import do_part
from blendshop.long_work.kinds import Kind, kind_of
from blendshop.long_work.models import LongWork, WorkPart
from blendshop.roles import require_role


def begin(
    kind: Kind,
    *,
    asked_by: User | None,
    arguments: Mapping[str, Any],
    parts: int = 1,
    same_as: str = "",
    upload: bytes | None = None,
) -> LongWork:
    """Put work on the queue in the caller's transaction, a task for each part.

    ``same_as`` is whatever the answer depends on, as text: while a piece of the kind with the same
    text is open or done it is joined instead (only an own one, unless the kind is shared).
    ``arguments`` are plain JSON. NotAllowed without one of the kind's roles.
    """
    if asked_by is not None:
        require_role(asked_by, *kind.roles)
    digest = _digest(kind, asked_by, same_as) if same_as else ""
    if digest and (joined := _current(kind, digest)):
        return joined
    work = LongWork(
        kind=kind.name,
        asked_by=asked_by,
        who=str(asked_by or "")[:160],
        arguments=dict(arguments),
        same_as=digest,
        parts=parts,
    )
    try:
        with transaction.atomic():
            work.save()
            if upload is not None:
                work.upload.save(f"{kind.name}-{work.pk}", ContentFile(upload))
            _put_on_the_queue(work)
    except IntegrityError:
        # Somebody asked the same in the same moment.
        if digest and (joined := _current(kind, digest)):
            return joined
        raise
    return work


def standing(kind: Kind, *, asked_by: User, same_as: str) -> LongWork | None:
    """What ``begin`` would join, open or done; None where it would begin."""
    return _current(kind, _digest(kind, asked_by, same_as))


def call_off(work: LongWork, *, acting_user: User) -> None:
    """End open work without an answer; a part already begun ends for nothing."""
    require_role(acting_user, *kind_of(work.kind).roles)
    told = _("Called off by {who}.").format(who=acting_user)
    ended = LongWork.objects.open().filter(pk=work.pk)
    if not ended.update(state=LongWork.State.CALLED_OFF, ended_at=timezone.now(), says=told[:400]):
        raise IllegalMove(_("It has ended already; there is nothing to call off."))


def try_again(work: LongWork, *, acting_user: User) -> LongWork:
    """Begin failed or called off work anew, or join who has asked the same meanwhile."""
    kind = kind_of(work.kind)
    require_role(acting_user, *kind.roles)
    ended = LongWork.objects.filter(
        pk=work.pk, state__in=(LongWork.State.FAILED, LongWork.State.CALLED_OFF)
    )
    try:
        with transaction.atomic():
            begun = ended.update(
                state=LongWork.State.WAITING,
                asked_at=timezone.now(),
                begun_at=None,
                ended_at=None,
                parts_done=0,
                combined_by=None,
                says="",
            )
            if not begun:
                raise IllegalMove(_("It did not go wrong; there is nothing to begin anew."))
            # Tasks of before find no part of theirs any more.
            work.work_parts.all().delete()
            _put_on_the_queue(work)
    except IntegrityError:
        if joined := _current(kind, work.same_as):
            return joined
        raise
    work.refresh_from_db()
    return work


def _put_on_the_queue(work: LongWork) -> None:
    parts = WorkPart.objects.bulk_create(
        WorkPart(work=work, number=number) for number in range(1, work.parts + 1)
    )
    for part in parts:
        part.task_id = do_part.enqueue(part.pk).id
    WorkPart.objects.bulk_update(parts, ["task_id"], batch_size=500)


def _current(kind: Kind, digest: str) -> LongWork | None:
    standing = (*LongWork.OPEN, LongWork.State.DONE)
    return LongWork.objects.filter(kind=kind.name, same_as=digest, state__in=standing).first()


def _digest(kind: Kind, asked_by: User | None, same_as: str) -> str:
    asker = None if kind.is_shared or asked_by is None else asked_by.pk
    return hashlib.sha256(json.dumps([asker, same_as]).encode()).hexdigest()
