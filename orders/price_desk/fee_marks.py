"""Where a state's fee comes from: shipped with its source, or set by the office."""

from decimal import Decimal
from typing import Final

from formulas.reference import inspection_fees

#: The mark of a fee that is not one of the shipped ones.
SET_BY_OFFICE: Final = "set by the office"


def fee_mark(state: str, fee_per_ton: Decimal, citation: str) -> str:
    """The shipped mark while figure and citation are as shipped."""
    shipped = next((fee for fee in inspection_fees() if fee.state == state), None)
    if shipped and (shipped.fee_per_ton, shipped.source.text) == (fee_per_ton, citation):
        return str(shipped.source.mark)
    return SET_BY_OFFICE
