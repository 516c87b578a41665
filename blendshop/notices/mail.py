"""Notices as mails: at once, or all of a day in one, each with how to stop it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.conf import settings
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import ngettext

from blendshop.notices.kinds import Kind, title_of
from blendshop.outbox.actions import post_mail

if TYPE_CHECKING:
    from blendshop.accounts.models import User
    from blendshop.notices.models import Notice


@dataclass(frozen=True, slots=True)
class Letter:
    """A mail that says more than its notice; an answer to it goes to ``reply_to``, if given."""

    subject: str
    text: str
    reply_to: str = ""


def mail_at_once(
    kind: Kind,
    person: User,
    notices: Sequence[Notice],
    *,
    about: tuple[str, str],
    by: User | None,
    letter: Letter | None,
) -> None:
    """Post the letter, or the notices as they stand, to who wants it at once."""
    if letter is None:
        subject = notices[0].text if len(notices) == 1 else str(kind.title)
        letter = Letter(subject, _paragraphs(notices))
    post_mail(
        to=[person.email],
        subject=letter.subject,
        text=_signed(letter.text, str(kind.title)),
        about=about,
        caused_by=by,
        reply_to=letter.reply_to,
    )


def mail_daily(person: User, notices: Sequence[Notice]) -> None:
    """Post what waits for the daily mail of one person, newest first."""
    subject = ngettext("{count} notice of the day", "{count} notices of the day", len(notices))
    post_mail(
        to=[person.email],
        subject=subject.format(count=len(notices)),
        text=_signed(_paragraphs(notices), ", ".join(sorted({title_of(n.kind) for n in notices}))),
        about=("notices", str(person.pk)),
    )


def _paragraphs(notices: Sequence[Notice]) -> str:
    return "\n\n".join(f"{notice.text}\n{settings.SITE_URL}{notice.link}" for notice in notices)


def _signed(text: str, titles: str) -> str:
    return render_to_string(
        "notices/mail.txt",
        {
            "text": text.strip(),
            "titles": titles,
            "choices_url": settings.SITE_URL + reverse("notice_choices"),
        },
    )
