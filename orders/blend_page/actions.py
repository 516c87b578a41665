"""What the blend page writes: how a customer sprays, as the last saved wish said."""

from __future__ import annotations

from blendshop.accounts.models import Company, User
from blendshop.roles import BLENDS, require_role
from orders.compliance.check import SprayPlace
from orders.models import SprayHabit


def remember_spraying(
    *,
    acting_user: User,
    company: Company,
    n_rate_lb: float,
    carrier_gal: float,
    place: SprayPlace | None,
) -> None:
    """Keep rate, volume and a typed place for the customer's next wish and for its quotes."""
    require_role(acting_user, *BLENDS)
    typed = place.address if place is not None and place.is_typed else None
    SprayHabit.objects.update_or_create(
        company=company,
        defaults={
            "n_rate_lb_per_1000sqft": n_rate_lb,
            "carrier_gal_per_1000sqft": carrier_gal,
            "state": typed.state if typed else "",
            "county": typed.county if typed else "",
            "place": typed.place if typed else "",
        },
    )
