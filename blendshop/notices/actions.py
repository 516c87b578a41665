"""Telling people, in the transaction of what they are told of; reading, and choosing how."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby
from typing import TYPE_CHECKING, Final

from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput
from blendshop.notices.kinds import Kind, kinds_for
from blendshop.notices.mail import Letter, mail_at_once, mail_daily
from blendshop.notices.models import How, Notice, NoticeCause, NoticeChoice
from blendshop.outbox.actions import are_mails_kept_back
from blendshop.roles import STAFF, Role, require_role, roles_of

if TYPE_CHECKING:
    from django.db.models import QuerySet

#: So long what was read stays; then it is forgotten, and what is told of each year is told again.
KEEP_READ: Final = timedelta(days=360)


@dataclass(frozen=True, slots=True)
class Cause:
    """One thing to tell: under ``key`` nobody is told of it again; ``name`` names it beside others.

    ``link`` is the path of its page, ``about`` kind and key of the record whose page shows mails.
    """

    key: str
    name: str
    text: str
    link: str
    about: tuple[str, str]


def tell(
    kind: Kind,
    people: QuerySet[User],
    *causes: Cause,
    by: User | None,
    letter: Letter | None = None,
) -> None:
    """Tell ``people`` of what ``by`` did, as each has chosen; ``by`` is not told.

    ``letter`` is the mail of those who want one at once; without it the notice itself is mailed.
    Nothing is told of what happens while mails are kept back.
    """
    if are_mails_kept_back() or not causes:
        return
    told = people.filter(is_active=True).order_by("pk").distinct().prefetch_related("groups")
    listeners = [person for person in told if by is None or person.pk != by.pk]
    if not listeners:
        return
    chosen = dict(
        NoticeChoice.objects.filter(kind=kind.name, person__in=listeners).values_list(
            "person_id", "how"
        )
    )
    keys = [_key(kind, cause) for cause in causes]
    known = set(
        NoticeCause.objects.filter(person__in=listeners, key__in=keys).values_list(
            "person_id", "key"
        )
    )
    for person in listeners:
        how = How(chosen.get(person.pk) or kind.usually(_roles(person)))
        new = [cause for cause in causes if (person.pk, _key(kind, cause)) not in known]
        if how == How.NOT or not new:
            continue
        try:
            with transaction.atomic():
                notices = _write(kind, person, new, waits_for_daily=how == How.DAILY)
        except IntegrityError:
            continue  # told by somebody else at this very moment
        if how == How.MAIL:
            mail_at_once(kind, person, notices, about=new[0].about, by=by, letter=letter)


def mark_read(*, person: User, pk: int) -> Notice | None:
    """The person has read or opened a notice; None where it is not one of this person's."""
    require_role(person, *STAFF)
    notice = Notice.objects.filter(person=person, pk=pk).first()
    if notice is not None:
        Notice.objects.unread().filter(pk=pk).update(read_at=timezone.now())
    return notice


def mark_all_read(*, person: User, up_to: datetime, kind: str = "") -> int:
    """All that had happened by ``up_to`` is read; of one kind where it is named. How many."""
    require_role(person, *STAFF)
    shown = Notice.objects.unread().filter(person=person, at__lte=up_to)
    if kind:
        shown = shown.filter(kind=kind)
    return shown.update(read_at=timezone.now())


def mail_the_day() -> int:
    """One mail to each who wants one a day, of what is not read yet; how many mails."""
    waiting = Notice.objects.filter(waits_for_daily=True, person__is_active=True)
    unread = list(waiting.unread().select_related("person").order_by("person", "-at", "-pk"))
    posted = 0
    for person, notices in groupby(unread, key=lambda notice: notice.person):
        told = list(notices)
        with transaction.atomic():
            # Guarded: a task begun anew after a death mails nobody twice.
            mine = Notice.objects.filter(waits_for_daily=True, pk__in=[each.pk for each in told])
            if mine.update(waits_for_daily=False):
                mail_daily(person, told)
                posted += 1
    Notice.objects.filter(waits_for_daily=True).exclude(read_at=None).update(waits_for_daily=False)
    return posted


def forget_read() -> int:
    """Forget what was read longer ago than ``KEEP_READ``; how many."""
    _each, gone = Notice.objects.filter(read_at__lt=timezone.now() - KEEP_READ).delete()
    return gone.get(Notice._meta.label, 0)


def choose(*, person: User, choices: Mapping[str, str]) -> None:
    """How the person wants to be told of each kind from now on; BadInput for what is no kind."""
    require_role(person, *STAFF)
    known = {kind.name for kind in kinds_for(roles_of(person))}
    if not known.issuperset(choices) or not set(How.values).issuperset(choices.values()):
        raise BadInput(_("Choose one of the ways for each kind."))
    NoticeChoice.objects.bulk_create(
        [NoticeChoice(person=person, kind=name, how=how) for name, how in choices.items()],
        update_conflicts=True,
        unique_fields=["person", "kind"],
        update_fields=["how"],
    )


def _key(kind: Kind, cause: Cause) -> str:
    return f"{kind.name}:{cause.key}"[:120]


def _roles(person: User) -> list[Role]:
    """Of a person whose groups are there."""
    names = {group.name for group in person.groups.all()}
    return [role for role in Role if role.value in names or (person.is_superuser and role in STAFF)]


def _write(
    kind: Kind, person: User, causes: Sequence[Cause], *, waits_for_daily: bool
) -> list[Notice]:
    """The notices as they stand by now; what folds is one, with what was not read before."""
    if not kind.many:
        written = [_new(kind, person, cause, waits_for_daily=waits_for_daily) for cause in causes]
    else:
        open_one = Notice.objects.unread().filter(person=person, kind=kind.name)
        notice = open_one.select_for_update(of=("self",)).order_by("-pk").first()
        notice = notice or _new(kind, person, causes[0], waits_for_daily=waits_for_daily)
        written = [notice] * len(causes)
    NoticeCause.objects.bulk_create(
        NoticeCause(notice=notice, person=person, key=_key(kind, cause), name=cause.name[:120])
        for notice, cause in zip(written, causes, strict=True)
    )
    if kind.many:
        _fold(kind, written[0], waits_for_daily=waits_for_daily)
    return list({notice.pk: notice for notice in written}.values())


def _new(kind: Kind, person: User, cause: Cause, *, waits_for_daily: bool) -> Notice:
    return Notice.objects.create(
        person=person,
        kind=kind.name,
        text=cause.text[:400],
        link=cause.link[:200],
        waits_for_daily=waits_for_daily,
    )


def _fold(kind: Kind, notice: Notice, *, waits_for_daily: bool) -> None:
    names = list(notice.causes.order_by("pk").values_list("name", flat=True))
    if len(names) == 1:
        return
    notice.text = kind.of_many(names)[:400]
    notice.link = reverse(kind.many_link)
    notice.at = timezone.now()
    notice.waits_for_daily = notice.waits_for_daily or waits_for_daily
    notice.save(update_fields=["text", "link", "at", "waits_for_daily"])


def people_of(*roles: Role, also: Iterable[int | None] = ()) -> QuerySet[User]:
    """Everybody with one of the roles, and those with the keys ``also``."""
    people = User.objects.filter(groups__name__in=[role.value for role in roles])
    return people | User.objects.filter(pk__in=[pk for pk in also if pk is not None])
