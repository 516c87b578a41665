"""What monitoring reads of the outbox."""

import pytest

from blendshop.monitoring.metrics import scraped
from blendshop.outbox.actions import post_mail
from blendshop.outbox.figures import mails_by_state
from blendshop.outbox.models import Mail

pytestmark = pytest.mark.django_db


def test_mails_are_counted_by_state():
    assert mails_by_state() == {"waiting": 0, "tried_again": 0, "failed": 0}
    addresses = [f"owner{number}@brookmeadow.example" for number in range(6)]
    posted = post_mail(to=addresses, subject="Quote", text="It is ready.", about=("quote", "Q-1"))
    given_up, tried = [posted[0].pk, posted[1].pk], [posted[2].pk]
    Mail.objects.filter(pk__in=given_up).update(state=Mail.State.DEAD, tries=8)
    Mail.objects.filter(pk__in=tried).update(tries=1)
    assert mails_by_state() == {"waiting": 3, "tried_again": 1, "failed": 2}
    assert 'blendshop_mails{state="failed"} 2.0' in scraped().decode()
