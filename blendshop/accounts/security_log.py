"""The security log: lines are written and told, never edited."""

from typing import Final

from allauth.account.adapter import get_adapter
from django.conf import settings
from django.http import HttpRequest
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import override

from blendshop.accounts.models import SecurityEvent, User
from blendshop.outbox.actions import post_mail
from blendshop.roles import STAFF, Role

Kind = SecurityEvent.Kind

#: What somebody did to another's way in: everybody of office and formulators reads it.
_TOLD_TO_THE_HOUSE: Final = frozenset(
    {
        Kind.PASSWORD_SET,
        Kind.PERSON_ADDED,
        Kind.ROLES_CHANGED,
        Kind.ACCESS_CHANGED,
        Kind.FACTOR_REMOVED,
        Kind.TOKEN_ISSUED,
    }
)
#: What a person should hear of, also where they did it themselves.
_TOLD_TO_THE_PERSON: Final = _TOLD_TO_THE_HOUSE - {Kind.PERSON_ADDED} | {
    Kind.FACTOR_ADDED,
    Kind.CODES_RENEWED,
}


def write_event(
    kind: SecurityEvent.Kind,
    *,
    who: User | None = None,
    whom: User | None = None,
    what: str = "",
    whom_name: str = "",
    address: str | None = None,
) -> SecurityEvent:
    """Write a line and tell by mail whom it concerns.

    ``who`` acted (None: nobody was signed in, or it was done at the server), ``whom`` it was done
    to; ``whom_name`` is what was typed where there is no such person, ``address`` (``address_of``)
    where the request came from.
    """
    event = SecurityEvent(
        kind=kind,
        who=who,
        who_name=str(who or "")[:254],
        whom=whom,
        whom_name=str(whom or whom_name)[:254],
        what=what[:400],
        address=address,
    )
    event.save()
    recipients = _recipients(event)
    if recipients:
        _mail(event, recipients)
    return event


def address_of(request: HttpRequest) -> str:
    """Where a request came from, seen through the trusted proxies."""
    return str(get_adapter().get_client_ip(request))


def _recipients(event: SecurityEvent) -> list[str]:
    people = set()
    if event.kind in _TOLD_TO_THE_PERSON and event.whom is not None:
        people.add(event.whom.email)
    if _concerns_the_house(event):
        house = User.objects.filter(
            groups__name__in=(Role.OFFICE.value, Role.FORMULATOR.value), is_active=True
        )
        people.update(house.values_list("email", flat=True))
    return sorted(people)


def _concerns_the_house(event: SecurityEvent) -> bool:
    """Done to another; a new person of a customer is everyday work and gets nobody a mail."""
    if event.kind not in _TOLD_TO_THE_HOUSE or event.whom is None or event.who_id == event.whom_id:
        return False
    if event.kind != Kind.PERSON_ADDED:
        return True
    return event.whom.is_staff or event.whom.groups.filter(name__in=STAFF).exists()


def _mail(event: SecurityEvent, recipients: list[str]) -> None:
    """The one place that tells: a mail to each, with the change."""
    with override(settings.LANGUAGE_CODE):
        subject = _("Blendshop security: {what}").format(what=event.get_kind_display())
        page_url = settings.SITE_URL + reverse("security_log")
        text = render_to_string(
            "account/email/security_event.txt", {"event": event, "page_url": page_url}
        )
    about = ("security", str(event.pk))
    post_mail(to=recipients, subject=subject, text=text, about=about, caused_by=event.who)
