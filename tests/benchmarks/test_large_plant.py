"""How long pages of a large plant take, a tenth of it and all of it. Nothing here passes or fails.

    pytest tests/benchmarks/test_large_plant.py --benchmark-enable --benchmark-only -s

The plant is the one of ``manage.py load_large_plant``; loading takes a minute for the tenth and
some for the whole. Lines read ``ms SIZE_NAME VALUE`` (processor time of a request that was made
before, the median) and, of the whole over the tenth, ``ratio NAME VALUE`` (time) and
``ratio queries_NAME VALUE``. ``ratio bytes_NAME VALUE`` is the whole plant's page over 120 kB.
"""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext, override_settings
from django.urls import reverse
from django.utils import timezone

from blendshop.accounts.models import SecurityEvent, User
from formulas.models import BlendRevision
from orders.demo.large.actions.loading import load_large_plant
from orders.demo.large.size import SIZES
from orders.models import Batch, Quote
from tests.benchmarks.figures import cpu_ms, ms, ratio

ROUNDS = 5
#: What a page may weigh before it is compressed.
LIMIT_BYTES = 120_000
OFFICE, PLANT = "office@thistleford.example", "plant@thistleford.example"
FORMULATOR = "formulator@thistleford.example"
#: A page far down a list; where there are fewer it is the last.
DEEP = {"page": "500"}
#: Name, who asks, route, query.
PAGES = (
    ("planning", PLANT, "tank_planning", {}),
    ("the_day", PLANT, "the_day", {}),
    ("undone", PLANT, "day_undone", {}),
    ("labels", PLANT, "labels_waiting", {}),
    ("labels_deep", PLANT, "labels_waiting", DEEP),
    ("season_plan", OFFICE, "season_plan", {}),
    ("season_plan_deep", OFFICE, "season_plan", DEEP),
    ("orders", OFFICE, "order_board", {}),
    ("orders_deep", OFFICE, "order_board", {"status": "all", **DEEP}),
    ("orders_search", OFFICE, "order_board", {"status": "all", "q": "variant 01234"}),
    ("quotes", OFFICE, "quote_list", {}),
    ("quotes_deep", OFFICE, "quote_list", DEEP),
    ("quotes_search", OFFICE, "quote_list", {"q": "kestrel"}),
    ("new_quote", OFFICE, "quote_new", {}),
    ("customers", OFFICE, "customer_list", {}),
    ("customers_deep", OFFICE, "customer_list", DEEP),
    ("blends", OFFICE, "blend_list", {}),
    ("blends_deep", OFFICE, "blend_list", DEEP),
    ("blends_search", OFFICE, "blend_list", {"q": "01234"}),
    ("blend_page", OFFICE, "blend_page", {}),
    ("batches", PLANT, "batch_list", {}),
    ("batches_deep", PLANT, "batch_list", {"status": "all", **DEEP}),
    ("lots", PLANT, "lot_list", {}),
    ("lots_deep", PLANT, "lot_list", {"state": "all", **DEEP}),
    ("lot_receive", PLANT, "lot_receive", {}),
    ("stock_levels", OFFICE, "stock_levels", {}),
    ("stock_list", OFFICE, "stock_list", {}),
    ("security_log", OFFICE, "security_log", {}),
    ("security_log_deep", OFFICE, "security_log", DEEP),
    ("jar_test_register", FORMULATOR, "jar_test_register", {}),
    ("open_quotes", OFFICE, "open_quote_margins", {}),
    ("tray", OFFICE, "blend_tray", {}),
    ("tonnage", OFFICE, "tonnage", {"state": "MD", "first": "2000-01-01", "last": "2100-01-01"}),
    ("figures", OFFICE, "year_figures", {}),
    ("figures_costs", OFFICE, "year_figures", {"question": "costs", "by": "blend"}),
    ("figures_blends", OFFICE, "year_figures", {"by": "blend"}),
    ("figures_orders", OFFICE, "year_figures", {"by": "each"}),
    ("figures_quotes", OFFICE, "year_figures", {"question": "quotes", "by": "each"}),
    ("drift", OFFICE, "drift_list", {}),
    ("buying", OFFICE, "buying", {}),
    ("seasons", OFFICE, "season_list", {}),
    ("crew_sheets", OFFICE, "crew_list", {}),
    ("crew_records", OFFICE, "crew_records", {}),
    ("search", OFFICE, "search", {"q": "kestrel"}),
    ("change_log", OFFICE, "change_log", {}),
    ("notices", OFFICE, "notice_list", {}),
    ("requests", FORMULATOR, "requests_waiting", {}),
)
#: By page what the first size took: milliseconds and queries.
_TENTH: dict[str, tuple[float, int]] = {}


@pytest.mark.parametrize("size", ["small", "full"])
def test_pages_of_a_large_plant(benchmark, db, client, size):
    with override_settings(DEBUG=True):
        load_large_plant(size=SIZES[size], today=timezone.localdate())
    people = list(User.objects.filter(company__isnull=False)[:1000])
    SecurityEvent.objects.bulk_create(
        SecurityEvent(kind=SecurityEvent.Kind.SIGNED_IN, who=each, whom=each)
        for each in people * 10
    )
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    for name, email, address, asked in addresses():
        client.force_login(User.objects.get(email=email))
        page = client.get(address, asked)
        assert page.status_code == 200, f"{name}: {page.status_code}"
        took = cpu_ms(lambda url=address, query=asked: client.get(url, query), rounds=ROUNDS)
        with CaptureQueriesContext(connection) as made:
            client.get(address, asked)
        ms(f"{size}_{name}", took)
        if size == "small":
            _TENTH[name] = took, len(made)
        elif name in _TENTH:
            ratio(name, took / _TENTH[name][0])
            ratio(f"queries_{name}", len(made) / _TENTH[name][1])
            ratio(f"bytes_{name}", len(page.content) / LIMIT_BYTES)
    benchmark.pedantic(client.get, args=(reverse("tank_planning"),), rounds=1)


def addresses():
    """Every page, those of single records of this plant too."""
    yield from ((name, email, reverse(route), asked) for name, email, route, asked in PAGES)
    draft = Quote.objects.filter(status=Quote.Status.DRAFT).order_by("pk")[0]
    yield "quote_edit", OFFICE, reverse("quote_edit", args=[draft.number]), {}
    own = BlendRevision.objects.filter(blend__company__isnull=True).order_by("-pk")[0]
    charged = Batch.objects.filter(status=Batch.Status.RELEASED).order_by("-pk")[0]
    waiting = Batch.objects.filter(status=Batch.Status.PLANNED).order_by("-pk")[0]
    yield "charge", PLANT, reverse("batch_charge", args=[waiting.number]), {}
    yield "charged", PLANT, reverse("batch_charge", args=[charged.number]), {}
    yield (
        "trace",
        PLANT,
        reverse("trace"),
        {"q": charged.charges.filter(lot__isnull=False)[0].lot.code},
    )
    yield "season_plan_of_own_book", OFFICE, reverse("season_plan"), {"revision": own.pk}
