"""What recurs about notices."""

from blendshop.jobs.queue import task
from blendshop.notices.actions import forget_read, mail_the_day


@task
def mail_notices_of_the_day() -> int:
    """Daily: one mail to each who wants it; how many mails."""
    return mail_the_day()


@task
def tidy_notices() -> int:
    """Daily: forget what was read long ago; how many."""
    return forget_read()
