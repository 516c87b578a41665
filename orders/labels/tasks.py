"""What recurs about labels."""

from blendshop.jobs.queue import task
from orders.labels.notices import tell_waiting_labels


@task
def tell_of_waiting_labels() -> None:
    """Daily: formulators hear which labels wait for their approval."""
    tell_waiting_labels()
