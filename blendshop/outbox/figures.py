"""What monitoring asks of the outbox: mails that wait, are tried again, or were given up."""

from django.db.models import Count, Q

from blendshop.monitoring.metrics import asked_when_scraped
from blendshop.outbox.models import Mail


def mails_by_state() -> dict[str, float]:
    waiting = Q(state=Mail.State.WAITING)
    return Mail.objects.exclude(state=Mail.State.SENT).aggregate(
        waiting=Count("pk", filter=waiting & Q(tries=0)),
        tried_again=Count("pk", filter=waiting & Q(tries__gt=0)),
        failed=Count("pk", filter=Q(state=Mail.State.DEAD)),
    )


def register() -> None:
    asked_when_scraped("mails", "Mails that are not sent.", mails_by_state, label="state")
