"""Every page of the site at three widths: nothing runs off it, and it is accessible."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.db import connection
from django.test import override_settings
from django.urls import reverse
from playwright.sync_api import Page

from blendshop.accounts.models import User
from orders.demo.customers import CUSTOMERS
from orders.demo.plant import STAFF
from tests.whole_site.demo_world import load_one_of_everything
from tests.whole_site.route_arguments import arguments_of_routes
from tests.whole_site.test_permission_matrix import COLUMNS, TABLE

pytestmark = [
    pytest.mark.any_database,
    pytest.mark.skipif(
        connection.vendor == "postgresql",
        reason="how wide a page is does not depend on the database",
    ),
]

WIDTHS = (1280, 768, 390)
#: No pages of ours: a service's answers, files, and the reader of the API description.
NO_PAGES = (
    "alive",
    "ready",
    "api_",
    "_pdf",
    "_csv",
    "_json",
    "_file",
    "_photo",
    "_download",
    "_worker",
    "export",
    "paper",
)
#: A quote that was sent is edited no more; the demo has no others.
NO_PAGES += ("quote_edit", "quote_draft_mail", "quote_line_stock")
#: A part of the charging screen, without a frame of its own, that its script fetches for a scanned
#: lot and step; without them there is nothing to look at.
NO_PAGES += ("batch_lot",)
#: A file that is saved.
NO_PAGES += ("safety_sheet",)
#: The bar of long work, fetched into its page.
NO_PAGES += ("work_progress",)
#: What a searched picker is offered, fetched into the page it stands on.
NO_PAGES += ("customer_options", "quote_blend_options", "stock_options", "season_ship_to_options")
NO_PAGES += ("blend_customer_options", "blend_ship_to_options", "blend_stock_options")
NO_PAGES += ("quote_ship_to_options", "price_blend_options", "season_blend_options")
#: What a script asks for: who is signed in, what a typed cost or an order again comes to.
NO_PAGES += ("signed_in_as", "stock_cost_move", "reorder_price")


@pytest.fixture
def people(transactional_db: None, tmp_path: Path) -> Iterator[dict[str, User | None]]:
    with override_settings(MEDIA_ROOT=tmp_path):
        load_one_of_everything()
        staff = {roles[0].value: User.objects.get(email=email) for email, _, roles in STAFF}
        own = User.objects.get(email=CUSTOMERS[1]["people"][0][0])
        yield {"nobody": None, "customer": own, **staff}


def pages_of(column: str) -> list[str]:
    """Routes the column may open that no earlier column of the walk has shown already."""
    walk = ("office", "formulator", "plant", "customer", "nobody")
    at = COLUMNS.index(column)
    earlier = [COLUMNS.index(c) for c in walk[: walk.index(column)] if column != "customer"]
    return [
        name
        for name, (method, letters) in TABLE.items()
        if method == "get"
        and letters[at] == "y"
        and not any(letters[each] == "y" for each in earlier)
        and not any(part in name for part in NO_PAGES)
    ]


@pytest.mark.parametrize("column", ["office", "formulator", "plant", "customer", "nobody"])
def test_every_page_fits_every_width_and_is_accessible(
    page_for: Callable[..., Page], people: dict[str, User | None], column: str
) -> None:
    page = page_for(people[column])
    wrong, arguments = [], arguments_of_routes()
    for name in pages_of(column):
        url = reverse(name, kwargs=arguments(name))
        answer = page.goto(url)
        if answer is None or answer.status != 200:
            wrong.append(f"{url}: {answer and answer.status}")
            continue
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 900})
            runs_to = page.evaluate("document.documentElement.scrollWidth")
            if runs_to > width:
                wrong.append(f"{url} at {width}: {runs_to} wide")
        found = Axe().run(page)
        wrong += [f"{url}: {each['id']}: {each['help']}" for each in found.response["violations"]]
    assert not wrong, "\n".join(wrong)
