"""What recurs about costs."""

from blendshop.jobs.queue import task
from orders.repricing import actions


@task
def reprice_if_changed() -> bool:
    """Repeated: costs set in the back office, and those in force since midnight."""
    return actions.reprice_if_changed()
