"""How long pages of a large plant take, at two sizes. Nothing here is a pass or a fail.

    pytest tests/benchmarks/test_large_plant.py --benchmark-enable --benchmark-only -s

The plant is the one of ``manage.py load_large_plant``; loading takes minutes for the small one and
many for the full one. Lines read ``ms NAME VALUE`` (processor time of a request, the median),
``queries NAME VALUE``, ``kB NAME VALUE`` and ``ratio NAME VALUE`` (full over small).
"""

import statistics
import time

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext, override_settings
from django.utils import timezone

from blendshop.accounts.models import User
from orders.demo.large.actions.loading import load_large_plant
from orders.demo.large.size import SIZES

ROUNDS = 5
OFFICE, PLANT = "office@thistleford.example", "plant@thistleford.example"
#: Name, who asks, address.
PAGES = (
    ("planning", PLANT, "/planning/"),
    ("the_day", PLANT, "/day/"),
    ("season_plan", OFFICE, "/season-plan/"),
    ("orders", OFFICE, "/orders/"),
    ("orders_deep", OFFICE, "/orders/?status=all&page=500"),
    ("orders_search", OFFICE, "/orders/?status=all&q=variant+01234"),
    ("quotes_deep", OFFICE, "/quotes/?page=500"),
    ("quotes_search", OFFICE, "/quotes/?q=kestrel"),
    ("customers_deep", OFFICE, "/customers/?page=500"),
    ("blends_deep", OFFICE, "/blends/?page=500"),
    ("blends_search", OFFICE, "/blends/?q=01234"),
    ("batches_deep", PLANT, "/batches/?status=all&page=500"),
    ("lots_deep", PLANT, "/lots/?state=all&page=500"),
    ("new_quote", OFFICE, "/quotes/new/"),
)
#: What the first size took, for the ratios of the second.
_TOOK: dict[str, float] = {}


@pytest.mark.parametrize("size", ["small", "full"])
def test_pages_of_a_large_plant(benchmark, db, client, size):
    with override_settings(DEBUG=True):
        load_large_plant(size=SIZES[size], today=timezone.localdate())
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    for name, email, address in PAGES:
        client.force_login(User.objects.get(email=email))
        client.get(address)
        times = []
        for _ in range(ROUNDS):
            start = time.process_time()
            page = client.get(address)
            times.append(1000 * (time.process_time() - start))
        with CaptureQueriesContext(connection) as asked:
            client.get(address)
        took = statistics.median(times)
        said = [
            f"ms {size}_{name} {took:.0f}",
            f"queries {size}_{name} {len(asked)}",
            f"kB {size}_{name} {len(page.content) / 1000:.0f}",
        ]
        if name in _TOOK:
            said.append(f"ratio {name} {took / _TOOK[name]:.2f}")
        _TOOK[name] = took
        print("\n" + "\n".join(said))  # noqa: T201 - a benchmark says what it measured
    benchmark.pedantic(client.get, args=(PAGES[0][2],), rounds=1)
