"""A state's tonnage or inspection fee: what is on record, and what to say where nothing is."""

from django.utils.translation import gettext as _

from orders import pricing
from orders.models import ShipTo, StateFee


def tonnage_fee(ship_to: ShipTo | None) -> pricing.TonnageFee | None:
    """The fee of the state a delivery goes to; None where none is kept or it is switched off."""
    if ship_to is None:
        return None
    return charged_fee(StateFee.objects.filter(state=ship_to.state).first())


def charged_fee(fee: StateFee | None) -> pricing.TonnageFee | None:
    """A row, saved or not, as a price carries it; None where it is switched off."""
    if fee is None or not fee.active:
        return None
    return pricing.TonnageFee(state=fee.state, per_ton=fee.fee_per_ton, citation=fee.citation)


def fee_caution(ship_to: ShipTo | None) -> str:
    """For staff: that nobody has looked up the state's fee yet; empty where somebody has.

    A fee that the office switched off is a decision and needs no word.
    """
    if ship_to is None or StateFee.objects.filter(state=ship_to.state).exists():
        return ""
    return _("No tonnage fee on record for {state}; the office should check.").format(
        state=ship_to.state
    )
