"""What of a person's notices stands unread."""

from typing import Final

from blendshop.accounts.models import User
from blendshop.notices.models import Notice

#: More than so many the bell does not count.
MOST_COUNTED: Final = 99


def count_unread(person: User) -> int:
    """How many notices wait for the person, at most one more than the bell counts; one query."""
    return Notice.objects.unread().filter(person=person)[: MOST_COUNTED + 1].count()
