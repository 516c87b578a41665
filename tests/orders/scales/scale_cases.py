"""Scales verified in a line, for tests of what follows from it."""

from datetime import timedelta
from decimal import Decimal

from django.utils import timezone

from formulas.engine.plant.load import ScaleKind
from orders.models import ScaleVerification
from orders.scales.actions import Verified, record_verification
from tests.orders.production.charging_cases import new_key


def verify(
    tank, by, *, reading="1000", load="1000", kind=ScaleKind.MAIN, days_ago=0, **more
) -> ScaleVerification:
    """Known load 1,000 lb; on 1 lb divisions a reading of 1,002 passes and one of 1,003 fails."""
    verified = Verified(
        loads=[(Decimal(load), Decimal(reading))],
        weights="20 × 50 lb",
        checked_at=timezone.now() - timedelta(days=days_ago),
        **more,
    )
    return record_verification(
        tank=tank, kind=kind, verified=verified, key=new_key(), acting_user=by
    )
