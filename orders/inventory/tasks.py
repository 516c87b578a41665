"""What recurs about stock."""

from django.utils import timezone

from blendshop.jobs.queue import task
from orders.inventory.notices import tell_short


@task
def tell_of_short_stock() -> None:
    """Daily: plant and office hear what open orders want more of than there is."""
    tell_short(timezone.localdate())
