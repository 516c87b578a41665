"""Requests that tests of the contract send; all figures invented for tests."""

from typing import Any

#: The request of the contract's own example, on stocks of its own.
STOCKS: list[dict[str, Any]] = [
    {
        "code": "UAN",
        "name": "UAN 32",
        "density_lb_per_gal": 11.06,
        "cost_per_lb": "0.1870",
        "analysis": {"N.urea": 16, "N.nitrate": 8, "N.ammoniacal": 8},
        "min_pct": 0,
        "max_pct": 100,
        "traits": ["nitrate"],
    },
    {
        "code": "TRZ",
        "density_lb_per_gal": 10.7,
        "cost_per_lb": "0.6800",
        "analysis": {"N.urea": 7.84, "N.slow": 20.16},
        "traits": ["triazone"],
    },
    {
        "code": "KAC",
        "density_lb_per_gal": 10.65,
        "cost_per_lb": "0.3900",
        "analysis": {"K2O": 24},
    },
    {
        "code": "FES",
        "density_lb_per_gal": 9.56,
        "cost_per_lb": "0.1500",
        "analysis": {"Fe": 5.1, "S": 2.9},
        "traits": ["unchelated_iron"],
    },
    {"code": "WATER", "density_lb_per_gal": 8.34, "cost_per_lb": "0", "traits": ["water"]},
]


def wish(**changes: Any) -> dict[str, Any]:
    """24 % N, half of it slow, some potash, a tote full; ``None`` leaves a key out."""
    body: dict[str, Any] = {
        "stocks": STOCKS,
        "targets": [{"nutrient": "N", "min": 24}, {"nutrient": "K2O", "min": 2, "max": 3.5}],
        "slow_release_pct": {"min": 50},
        "stock_limits": [{"code": "KAC", "min_pct": 2, "max_pct": 20}],
        "exclude": ["FES"],
        "smallest_charge_pct": 0.25,
        "most_stocks": 6,
        "objective": "cheapest",
        "fill": {"volume_gal": 265},
    }
    body.update(changes)
    return {key: value for key, value in body.items() if value is not None}


def out_of_reach() -> dict[str, Any]:
    """More nitrogen than any stock holds."""
    return wish(targets=[{"nutrient": "N", "min": 30}, {"nutrient": "K2O", "min": 4}])
