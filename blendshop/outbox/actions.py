"""Mails: posted with what causes them, delivered by the worker, resent by a person.

Two workers never deliver one mail at once: who delivers claims its row by a guarded update. A
worker that dies between the mail server's yes and the row's has sent it, and another sends it again
when the claim has run out: each mail goes out at least once, under one Message-ID.
"""

import logging
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import timedelta
from email.utils import make_msgid, parseaddr
from smtplib import SMTPRecipientsRefused
from typing import TYPE_CHECKING, Any, Final

from django.conf import settings
from django.core.mail import EmailMessage
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.errors import IllegalMove
from blendshop.jobs.queue import task
from blendshop.outbox.attachments import attached_file
from blendshop.outbox.models import Mail

if TYPE_CHECKING:
    from django.contrib.auth.models import AbstractUser

logger = logging.getLogger(__name__)

#: Pauses of 1, 3, 9, … minutes: the last try is some eighteen hours after the first.
MOST_TRIES: Final = 8
FIRST_PAUSE: Final = timedelta(minutes=1)
PAUSE_GROWS: Final = 3
#: Longer than any talk with a mail server, each step of which ends after EMAIL_TIMEOUT.
CLAIM: Final = timedelta(minutes=10)

_kept_back: ContextVar[bool] = ContextVar("mails_kept_back", default=False)


@contextmanager
def mails_kept_back() -> Iterator[None]:
    """What happens in here is nobody's news: no mail is written."""
    token = _kept_back.set(True)
    try:
        yield
    finally:
        _kept_back.reset(token)


def are_mails_kept_back() -> bool:
    """Whether what happens now is nobody's news."""
    return _kept_back.get()


def post_mail(
    *,
    to: Iterable[str],
    subject: str,
    text: str,
    about: tuple[str, str],
    caused_by: "AbstractUser | None" = None,
    has_secret: bool = False,
    reply_to: str = "",
    attached: tuple[str, str] | None = None,
) -> list[Mail]:
    """Write a mail for each address in the caller's transaction; it is sent after the commit.

    ``about`` is kind and key of the record on whose page the mail is shown. The text of a mail that
    ``has_secret``, such as a link to a new password, is forgotten once it is sent. ``attached`` is
    kind and key of a file that goes with it.
    """
    if are_mails_kept_back():
        return []
    kind, key = about
    attached_kind, attached_key = attached or ("", "")
    domain = parseaddr(settings.DEFAULT_FROM_EMAIL)[1].rpartition("@")[2] or "localhost"
    posted = []
    for address in to:
        mail = Mail.objects.create(
            to=address,
            from_address=settings.DEFAULT_FROM_EMAIL,
            subject=subject[:200],
            text=text,
            has_secret=has_secret,
            reply_to=reply_to,
            attached_kind=attached_kind,
            attached_key=attached_key,
            message_id=make_msgid(domain=domain),
            about_kind=kind,
            about_key=key,
            caused_by_id=caused_by.pk if caused_by else None,
            next_try_at=timezone.now(),
        )
        deliver_mail.enqueue(mail.pk)
        posted.append(mail)
    return posted


@task
def deliver_mail(pk: int) -> str:
    """One try to deliver a waiting mail; the state it is in afterwards, empty if not now."""
    now = timezone.now()
    claimed_until = now + CLAIM
    ready = Mail.objects.filter(_unclaimed(), pk=pk, state=Mail.State.WAITING, next_try_at__lte=now)
    if not ready.update(claimed_until=claimed_until, tries=F("tries") + 1):
        return ""
    mail = Mail.objects.get(pk=pk)
    try:
        _hand_over(mail)
    except (OSError, ValueError) as error:  # smtplib's errors are OSErrors
        changed = _not_delivered(mail, error)
    else:
        changed = {"state": Mail.State.SENT, "sent_at": timezone.now(), "last_error": ""}
        if mail.has_secret:
            changed["text"] = ""
    ours = Mail.objects.filter(pk=pk, claimed_until=claimed_until)
    ours.update(claimed_until=None, **changed)
    if at := changed.get("next_try_at"):
        deliver_mail.using(run_after=at).enqueue(pk)
    return str(changed.get("state", Mail.State.WAITING))


@task
def deliver_overdue() -> int:
    """Repeated: try what no task delivered, such as mails of workers that died; how many.

    Ends with the first mail that has to wait: a mail server in trouble is not asked for each.
    """
    now = timezone.now()
    waiting = Mail.objects.filter(_unclaimed(), state=Mail.State.WAITING, next_try_at__lte=now)
    waiting.filter(tries__gte=MOST_TRIES).update(
        state=Mail.State.DEAD, claimed_until=None, last_error=_("The sending broke off.")
    )
    tried = 0
    for pk in list(waiting.order_by("pk").values_list("pk", flat=True)):
        state = deliver_mail.call(pk)
        tried += bool(state)
        if state == Mail.State.WAITING:
            break
    return tried


def resend_mail(mail: Mail, *, acting_user: "AbstractUser") -> None:
    """Try a mail that was given up again, from the first pause on; IllegalMove for any other."""
    given_up = Mail.objects.filter(pk=mail.pk, state=Mail.State.DEAD)
    now = timezone.now()
    if not given_up.update(
        state=Mail.State.WAITING,
        tries=0,
        next_try_at=now,
        caused_by=acting_user,
        set_aside_at=None,
    ):
        raise IllegalMove(
            _("The mail to {to} is not given up; there is nothing to send again.").format(
                to=mail.to
            )
        )
    deliver_mail.enqueue(mail.pk)


def set_aside_mail(mail: Mail) -> None:
    """A mail that was given up need not go out; IllegalMove for any other.

    It stays where it is shown with its record, and can be sent again from there.
    """
    if not Mail.objects.not_delivered().filter(pk=mail.pk).update(set_aside_at=timezone.now()):
        raise IllegalMove(_("The mail to {to} is not given up.").format(to=mail.to))


def _unclaimed() -> Q:
    return Q(claimed_until=None) | Q(claimed_until__lt=timezone.now())


def _hand_over(mail: Mail) -> None:
    """Give the mail to the mail server; OSError or ValueError if it is not taken."""
    headers = {"Message-ID": mail.message_id}
    message = EmailMessage(
        mail.subject,
        mail.text,
        mail.from_address,
        [mail.to],
        reply_to=[mail.reply_to] if mail.reply_to else None,
        headers=headers,
    )
    if mail.attached_kind:
        file = attached_file(mail.attached_kind, mail.attached_key)
        message.attach(file.name, file.content, file.media_type)
    message.send()


def _not_delivered(mail: Mail, error: Exception) -> dict[str, Any]:
    """The columns of a mail that was not taken: another try, or given up."""
    logger.warning("Mail %s was not taken at try %d", mail.pk, mail.tries, exc_info=error)
    told = {"last_error": _reason(error)[:300]}
    if mail.tries >= MOST_TRIES or _is_final(error):
        return {"state": Mail.State.DEAD, **told}
    pause = FIRST_PAUSE * PAUSE_GROWS ** (mail.tries - 1)
    return {"next_try_at": timezone.now() + pause, **told}


def _is_final(error: Exception) -> bool:
    """Whether no other try can do better: the address is refused for good, the mail is no mail."""
    if isinstance(error, SMTPRecipientsRefused):
        return all(code >= 500 for code, _words in error.recipients.values())  # RFC 5321, 4.2.1
    return isinstance(error, ValueError)


def _reason(error: Exception) -> str:
    """Why, for the line on the page: in the mail server's words where it gave any."""
    if isinstance(error, SMTPRecipientsRefused):
        answers = [
            f"{code} {words.decode(errors='replace')}" for code, words in error.recipients.values()
        ]
        return _("The mail server refused the address: {answers}").format(
            answers="; ".join(answers)
        )
    # smtplib says "disconnected" of a server that took the connection and then kept silent.
    if isinstance(error, TimeoutError) or isinstance(error.__context__, TimeoutError):
        return _("The mail server did not answer.")
    if isinstance(error, ConnectionError):
        return _("The mail server cannot be reached.")
    return str(error) or type(error).__name__
