"""Figures for Prometheus: what this server counted, and what is asked when somebody looks.

A server of several processes sets ``PROMETHEUS_MULTIPROC_DIR`` to an empty folder: then they add up
what they count in its files, and each answers for all. Figures that stand in a table are the same
whoever answers: the room that owns the table gives ``asked_when_scraped`` a function that reads it.
"""

import logging
from collections.abc import Callable, Iterator
from typing import Final

from django.conf import settings
from prometheus_client import REGISTRY, CollectorRegistry, Counter, Histogram, generate_latest
from prometheus_client.core import GaugeMetricFamily
from prometheus_client.multiprocess import MultiProcessCollector
from prometheus_client.registry import Collector

_log = logging.getLogger(__name__)

REQUESTS: Final = Counter("blendshop_requests", "Requests answered.", ["method", "route", "status"])
REQUEST_SECONDS: Final = Histogram(
    "blendshop_request_seconds",
    "Seconds until a request was answered.",
    ["route"],
    buckets=(0.025, 0.1, 0.25, 1, 2.5, 10, 30),
)
SOLVE_SECONDS: Final = Histogram(
    "blendshop_solve_seconds",
    "Seconds the engine took for one question.",
    buckets=(0.005, 0.025, 0.1, 0.25, 1, 2.5, 10, 30),
)

#: A figure by the value of its one label; a figure without label stands under "".
Figures = dict[str, float]
_ASKED: Final[dict[str, tuple[str, str, Callable[[], Figures]]]] = {}


def asked_when_scraped(
    name: str, description: str, read: Callable[[], Figures], *, label: str = ""
) -> None:
    """Register a gauge ``blendshop_<name>`` that ``read`` gives when somebody looks.

    ``read`` runs once a scrape, so it asks one small query. Call this in an ``AppConfig.ready``.
    """
    _ASKED[name] = (description, label, read)


class _Asked(Collector):
    def collect(self) -> Iterator[GaugeMetricFamily]:
        failed = GaugeMetricFamily(
            "blendshop_figure_failed", "1 for a figure that could not be read.", labels=["figure"]
        )
        for name, (description, label, read) in _ASKED.items():
            try:
                figures = read()
            except Exception:  # noqa: BLE001 - one figure that fails must not hide the others
                _log.exception("The figure %s could not be read", name)
                failed.add_metric([name], 1)
                continue
            gauge = GaugeMetricFamily(
                f"blendshop_{name}", description, labels=[label] if label else []
            )
            for key, figure in figures.items():
                gauge.add_metric([key] if label else [], figure)
            yield gauge
        yield failed


def scraped() -> bytes:
    """All figures in Prometheus' text form."""
    asked = CollectorRegistry()
    asked.register(_Asked())
    return generate_latest(_counted()) + generate_latest(asked)


def _counted() -> CollectorRegistry:
    if not settings.METRICS_FOLDER:
        return REGISTRY
    registry = CollectorRegistry()
    MultiProcessCollector(registry)  # type: ignore[no-untyped-call]
    return registry
