"""The paper of a quote as it was when it was sent."""

from __future__ import annotations

from typing import Final

from django.db import transaction

from blendshop.jobs.queue import task
from orders.demo.year.actions.dated import backdate
from orders.models import Paper, Quote
from orders.quoting.actions.paper import issue_quote_paper

#: As many as a worker draws before it looks at what else waits.
AT_ONCE: Final = 10


def issue_of_its_day(quote: Quote, accept_url: str = "") -> None:
    """Drawn now, dated the minute it was sent; without a link where it can be answered no more."""
    with transaction.atomic():
        paper = issue_quote_paper(quote=quote, acting_user=quote.created_by, accept_url=accept_url)
        if quote.sent_at is not None:
            backdate(Paper, [paper.pk], issued_at=quote.sent_at)


@task
def issue_papers_of_the_past() -> None:
    """Of sent quotes without a paper, the newest first, some at a time.

    A worker draws them beside the site, which opens without waiting for them.
    """
    without = Quote.objects.filter(papers__isnull=True, sent_at__isnull=False)
    found = list(without.select_related("created_by").order_by("-sent_at", "-pk")[:AT_ONCE])
    for quote in found:
        issue_of_its_day(quote)
    if len(found) == AT_ONCE:
        issue_papers_of_the_past.enqueue()
