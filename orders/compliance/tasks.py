"""What recurs about law."""

from django.utils import timezone

from blendshop.jobs.queue import task
from orders.compliance.actions import tell_of_rules


@task
def tell_of_rules_of_the_day() -> None:
    """Daily: formulators and office hear of rules that changed, or were read long ago."""
    tell_of_rules(timezone.localdate())
