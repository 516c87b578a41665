"""Ways in that close by themselves: with a new password, with somebody's leaving, with a role."""

from allauth.usersessions.models import UserSession
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from rest_framework.authtoken.models import Token

from blendshop.accounts.models import User
from blendshop.accounts.second_factor import is_required, is_set_up
from blendshop.languages.choice import in_house_words


@in_house_words()  # the log keeps them
def close_ways_in(person: User, *, but_session: str | None = None) -> str:
    """End the person's sessions, except one by its key, and revoke the API token.

    What was closed, in words for the security log. Call it in the transaction of its cause.
    """
    ended = 0
    for session in UserSession.objects.filter(user=person):
        if session.session_key != but_session:
            ended += session.exists()
            session.end()
    told = [
        ngettext("{count} session ended", "{count} sessions ended", ended).format(count=ended)
        if ended
        else _("no session to end")
    ]
    if revoke_tokens(person):
        told.append(_("API token revoked"))
    return "; ".join(told)


def revoke_tokens(person: User) -> int:
    """How many there were; each is a line of the security log (``accounts/signals.py``)."""
    count: int = Token.objects.filter(user=person).delete()[0]
    return count


def revoke_tokens_without_factor(person: User) -> None:
    """A token that was issued before the role asked for a second factor does not profit."""
    person = User.objects.get(pk=person.pk)  # roles are remembered on a person
    if is_required(person) and not is_set_up(person):
        revoke_tokens(person)
