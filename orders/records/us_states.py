"""The two letters of each state a lawn may lie in, as mail to it is addressed.

Source: United States Postal Service, Publication 28, appendix B: the fifty states, the District of
Columbia and the territories; without military addresses and freely associated states. Written
down from memory of that table.
"""

from typing import Final

US_STATES: Final = frozenset(
    {
        "AL", "AK", "AZ", "AR", "CA", "CO", "CT", "DE", "DC", "FL", "GA", "HI",
        "ID", "IL", "IN", "IA", "KS", "KY", "LA", "ME", "MD", "MA", "MI", "MN",
        "MS", "MO", "MT", "NE", "NV", "NH", "NJ", "NM", "NY", "NC", "ND", "OH",
        "OK", "OR", "PA", "RI", "SC", "SD", "TN", "TX", "UT", "VT", "VA", "WA",
        "WV", "WI", "WY", "AS", "GU", "MP", "PR", "VI",
    }
)  # fmt: skip
