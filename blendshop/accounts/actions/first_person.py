"""The first person of a plant: made once, by whoever runs the server."""

from collections.abc import Collection, Mapping, Sequence

from django.contrib.auth.models import Group
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Q
from django.utils.translation import gettext as _

from blendshop.accounts.models import SecurityEvent, User
from blendshop.accounts.security_log import write_event
from blendshop.accounts.set_up import is_nobody_yet
from blendshop.errors import BadInput, IllegalMove
from blendshop.roles import STAFF, Role


def make_first_person(*, name: str, email: str, password: str, also: Collection[Role] = ()) -> User:
    """The first of all people, with the role office; IllegalMove once there is anybody.

    ``also`` are roles of the plant the same person takes on, as where one does everything.
    Nobody gives himself a role later.

    Nobody acts: the page asks for the set-up link instead. Two who are as fast as one another
    wait for one another, and the second is refused. BadInput names the fields.
    """
    with transaction.atomic():
        group = _one_at_a_time()
        if not is_nobody_yet():
            raise IllegalMove(_("This plant has its first person already: sign in."))
        return _make(group, name, email, password, also)


def make_office_person(
    *, name: str, email: str, password: str | None, also: Collection[Role] = ()
) -> User:
    """The same from the server's own command line, also where people are but no office person.

    Without a password the person chooses one by a link. IllegalMove while somebody can do the
    office's work: that person adds people.
    """
    with transaction.atomic():
        group = _one_at_a_time()
        office = Q(groups=group) | Q(is_superuser=True)
        if User.objects.filter(office, is_active=True).exists():
            raise IllegalMove(
                _(
                    "There is somebody of the office already, who adds people under First steps or"
                    " Back office."
                )
            )
        return _make(group, name, email, password, also)


def _one_at_a_time() -> Group:
    """The office's group, locked: whoever else makes a first person waits for it.

    SQLite has no row locks; there every transaction that may write waits for the other.
    """
    return Group.objects.select_for_update().get(name=Role.OFFICE.value)


def _make(
    office: Group, name: str, email: str, password: str | None, also: Collection[Role]
) -> User:
    person = User(email=email.strip().lower(), name=name.strip(), is_staff=True)
    person.set_password(password)
    try:
        person.full_clean()
    except ValidationError as error:
        raise _refused(error.message_dict) from error
    try:
        if password is not None:
            validate_password(password, person)
    except ValidationError as error:
        raise _refused({"password": error.messages}) from error
    person.save()
    roles = sorted({Role.OFFICE, *also} & STAFF)
    person.groups.add(office, *Group.objects.filter(name__in=roles))
    write_event(SecurityEvent.Kind.PERSON_ADDED, whom=person, what=", ".join(roles))
    return person


def _refused(problems: Mapping[str, Sequence[str]]) -> BadInput:
    fields = {name: " ".join(words) for name, words in problems.items()}
    return BadInput(_("The entry has fields that need correcting."), fields=fields)
