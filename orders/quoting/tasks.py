"""What recurs about quotes."""

from django.utils import timezone

from blendshop.jobs.queue import task
from orders.quoting.actions.quotes import expire_quotes
from orders.quoting.notices import tell_expiring


@task
def expire_quotes_of_the_day() -> list[str]:
    """Daily: close quotes whose last day has passed; their numbers."""
    return expire_quotes(acting_user=None, today=timezone.localdate())


@task
def tell_of_expiring_quotes() -> None:
    """Daily: reps hear of quotes that are about to close."""
    tell_expiring(timezone.localdate())
