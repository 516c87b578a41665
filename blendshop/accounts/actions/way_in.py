"""What the office does to a person's way in, and a person to the own sessions."""

from dataclasses import dataclass

from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator
from allauth.usersessions.models import UserSession
from django.db import transaction
from django.utils.translation import gettext as _

from blendshop.accounts.actions.closing import close_ways_in, revoke_tokens_without_factor
from blendshop.accounts.devices import device_words
from blendshop.accounts.invitations import mail_invitation
from blendshop.accounts.models import SecurityEvent, User
from blendshop.accounts.second_factor import factor_words
from blendshop.accounts.security_log import write_event
from blendshop.errors import NotAllowed
from blendshop.roles import Role, require_role

Kind = SecurityEvent.Kind


@dataclass(frozen=True, slots=True)
class Standing:
    """What decides where a person may go, as it was at one moment."""

    email: str
    company: str
    roles: tuple[str, ...]
    back_office: bool
    superuser: bool
    active: bool
    password: str

    @classmethod
    def of(cls, person: User) -> "Standing":
        """As it stands in the database now."""
        row = User.objects.select_related("company").get(pk=person.pk)
        return cls(
            email=row.email,
            company=str(row.company or ""),
            roles=tuple(sorted(row.groups.values_list("name", flat=True))),
            back_office=row.is_staff,
            superuser=row.is_superuser,
            active=row.is_active,
            password=row.password,
        )


def note_new_person(*, acting_user: User, person: User, address: str | None) -> None:
    """Write down who was added, with which roles."""
    what = ", ".join(person.groups.values_list("name", flat=True)) or _("no role")
    write_event(Kind.PERSON_ADDED, who=acting_user, whom=person, what=what, address=address)


def invite_staff(*, acting_user: User, person: User, address: str | None) -> None:
    """Write down who was added and mail the link where the first password is chosen."""
    note_new_person(acting_user=acting_user, person=person, address=address)
    mail_invitation(person, acting_user, "account/email/staff_welcome.txt")


def note_changes(*, acting_user: User, person: User, before: Standing, address: str | None) -> None:
    """Compare a person with before and write down what changed of the way in.

    NotAllowed, so that nothing of it stays, where somebody changes the own roles or access.
    """
    after = Standing.of(person)
    access = _access_changes(before, after)
    roles_differ = before.roles != after.roles
    if acting_user.pk == person.pk and (roles_differ or access):
        raise NotAllowed(_("Nobody changes the own roles or access; another person does that."))
    if roles_differ:
        what = f"{', '.join(before.roles) or '-'} → {', '.join(after.roles) or '-'}"
        write_event(Kind.ROLES_CHANGED, who=acting_user, whom=person, what=what, address=address)
        revoke_tokens_without_factor(person)
    if access:
        if before.active and not after.active:
            access.append(close_ways_in(person))
        what = "; ".join(access)
        write_event(Kind.ACCESS_CHANGED, who=acting_user, whom=person, what=what, address=address)
    if before.email != after.email:
        EmailAddress.objects.filter(user=person).delete()  # the old address opens nothing any more
    if before.password != after.password:
        what = _("Set by somebody else; {closed}.").format(closed=close_ways_in(person))
        write_event(Kind.PASSWORD_SET, who=acting_user, whom=person, what=what, address=address)


def _access_changes(before: Standing, after: Standing) -> list[str]:
    pairs = (
        (_("email"), before.email, after.email),
        (_("company"), before.company, after.company),
        (_("back office"), before.back_office, after.back_office),
        (_("superuser"), before.superuser, after.superuser),
        (_("active"), before.active, after.active),
    )
    return [f"{name}: {old or '-'} → {new or '-'}" for name, old, new in pairs if old != new]


def remove_second_factor(
    *, acting_user: User | None, person: User, address: str | None = None
) -> None:
    """For a lost phone and lost codes: the person sets one up anew at the next sign-in.

    All sessions of the person end, and an API token. The office's; ``acting_user`` None at the
    server. NotAllowed for one's own, which is removed under the own sign-in.
    """
    if acting_user is not None:
        require_role(acting_user, Role.OFFICE)
        if acting_user.pk == person.pk:
            raise NotAllowed(_("Remove your own second factor under your sign-in."))
        if person.is_superuser and not acting_user.is_superuser:
            raise NotAllowed(_("Only a superuser does that to a superuser."))
    with transaction.atomic():
        found = Authenticator.objects.filter(user=person)
        what = ", ".join(factor_words(each) for each in found) or _("there was none")
        found.delete()
        what = f"{what}; {close_ways_in(person)}"
        write_event(Kind.FACTOR_REMOVED, who=acting_user, whom=person, what=what, address=address)


def end_sessions(*, acting_user: User, person: User, address: str | None = None) -> None:
    """End all sessions of a person, for a tablet that was lost, and revoke the API token.

    The office's. The password stays. NotAllowed for one's own, which end under the own sign-in.
    """
    require_role(acting_user, Role.OFFICE)
    if acting_user.pk == person.pk:
        raise NotAllowed(_("End your own sessions under your sign-in."))
    if person.is_superuser and not acting_user.is_superuser:
        raise NotAllowed(_("Only a superuser does that to a superuser."))
    with transaction.atomic():
        what = close_ways_in(person)
        write_event(Kind.SESSION_ENDED, who=acting_user, whom=person, what=what, address=address)


def end_session(*, acting_user: User, session: UserSession, address: str) -> None:
    """End one of the own sessions. NotAllowed for another's."""
    if session.user_id != acting_user.pk:
        raise NotAllowed(_("That is not your session."))
    what = f"{session.ip} {device_words(session.user_agent)}"
    session.end()
    write_event(Kind.SESSION_ENDED, who=acting_user, whom=acting_user, what=what, address=address)
