"""Money: the one rounding rule and the one formatter of the whole project.

**Rounding rule.** Amounts are rounded half up, away from zero, to the cent (2.665 becomes
2.67, -2.665 becomes -2.67). Unit prices (per gallon, pound, tote ...) are rounded the same way
to four places; they are for reading and are never multiplied back into an amount.

Only finite ``Decimal`` values are money. A float is refused with ``TypeError`` because it has
already lost the cents one would like to round; NaN, infinity and numbers too large to hold to
the cent are refused with ``ValueError``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import ROUND_FLOOR, ROUND_HALF_UP, Decimal, InvalidOperation
from typing import Final

CENT: Final = Decimal("0.01")
UNIT_PRICE_STEP: Final = Decimal("0.0001")
ZERO: Final = Decimal("0.00")

#: ISO 4217 codes of the currencies in use whose amounts have two decimals, as the rounding rule
#: has (Unicode CLDR, supplemental currencyData); a plant's prices are in one of them.
_TWO_DECIMALS: Final = (
    "AED AMD AOA ARS AUD AWG AZN BAM BBD BDT BGN BMD BND BOB BRL BSD BTN BWP BYN BZD CAD CDF "
    "CHF CNY CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GTQ GYD "
    "HKD HNL HTG ILS INR JMD KES KGS KHR KYD KZT LKR LRD LSL MAD MDL MKD MNT MOP MRU MUR MVR "
    "MWK MXN MYR MZN NAD NGN NIO NOK NPR NZD PAB PEN PGK PHP PKR PLN QAR RON RSD RUB SAR SBD "
    "SCR SDG SEK SGD SHP SLE SRD SSP STN SZL THB TJS TMT TOP TRY TTD TWD TZS UAH USD UYU UZS "
    "VES WST XCD XCG ZAR ZMW ZWG "
)
CURRENCIES: Final = frozenset(_TWO_DECIMALS.split())

#: What is printed before an amount; a currency not listed is printed by its ISO 4217 code.
SYMBOLS: Final[Mapping[str, str]] = {"USD": "$", "CAD": "CA$", "EUR": "€", "GBP": "£"}


def _finite(value: object) -> Decimal:
    """``value`` itself when it is a finite Decimal; TypeError or ValueError otherwise."""
    if not isinstance(value, Decimal):
        raise TypeError(f"Money is a Decimal, not a {type(value).__name__}: {value!r}.")
    if not value.is_finite():
        raise ValueError(f"Money is a finite number, not {value}.")
    return value


def _rounded(value: object, step: Decimal) -> Decimal:
    amount = _finite(value)
    try:
        # Adding zero turns "-0.00" into "0.00", which nobody wants to read on a quote.
        return amount.quantize(step, rounding=ROUND_HALF_UP) + 0
    except InvalidOperation as error:
        raise ValueError(f"{amount} is too large to be held to {step}.") from error


def money(amount: Decimal) -> Decimal:
    """An amount rounded half up to the cent. TypeError on a float, ValueError on NaN."""
    return _rounded(amount, CENT)


def unit_price(price: Decimal) -> Decimal:
    """A price per unit rounded half up to four places; the same refusals as ``money``."""
    return _rounded(price, UNIT_PRICE_STEP)


def format_money(amount: Decimal, currency: str = "USD", *, places: int = 2) -> str:
    """``Decimal("-1234.5")`` as ``-$1,234.50``; ``places=4`` prints a unit price.

    Raises TypeError on a float and ValueError on NaN, infinity and on an amount that has more
    places than are printed: a shown sum must be the stored sum.
    """
    exact = _finite(amount)
    if places not in (2, 4):
        raise ValueError(f"Money is printed with 2 or 4 places, not {places}.")
    shown = money(exact) if places == 2 else unit_price(exact)
    if shown != exact:
        raise ValueError(f"{exact} has more than {places} places; round it before printing it.")
    sign = "-" if shown < 0 else ""
    mark = SYMBOLS.get(currency, f"{currency} ")
    return f"{sign}{mark}{abs(shown):,.{places}f}"


def split_money(amount: Decimal, weights: Sequence[Decimal]) -> tuple[Decimal, ...]:
    """Split an amount of whole cents over ``weights`` so that the shares add up to it exactly.

    Largest remainder: every share is rounded down to the cent, and the cents left over go to
    the largest remainders, the earlier one first when they are equal. Raises ValueError when
    the amount is negative or not in whole cents, a weight is negative, or all weights are zero.
    """
    whole = _finite(amount)
    if whole < 0 or money(whole) != whole:
        raise ValueError(f"Only a whole number of cents of at least 0 can be split, not {whole}.")
    if any(_finite(weight) < 0 for weight in weights) or not any(weights):
        raise ValueError("Weights to split by must be 0 or more, and not all 0.")
    total_weight = sum(weights, Decimal(0))
    exact = [whole * weight / total_weight for weight in weights]
    shares = [share.quantize(CENT, rounding=ROUND_FLOOR) for share in exact]
    cents_left = int((whole - sum(shares, ZERO)) / CENT)
    by_remainder = sorted(range(len(exact)), key=lambda i: (shares[i] - exact[i], i))
    for index in by_remainder[:cents_left]:
        shares[index] += CENT
    return tuple(shares)
