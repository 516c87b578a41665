"""The menu: everybody finds their pages in it, and nothing they may not open."""

import re

import pytest

from tests.orders.planning.plant_cases import make_shop

pytestmark = pytest.mark.one_database

ROLES = ("customer", "rep", "plant_worker", "formulator", "office")
LINK = re.compile(r'<a class="nav-link[^"]*" href="([^"]+)"( aria-current="page")?>')


def links(client, url="/orders/"):
    html = client.get(url).content.decode()
    menu = html.split('id="nav-links"', 1)[1].split("</nav>", 1)[0]
    return LINK.findall(menu)


@pytest.mark.parametrize("role", ROLES)
def test_every_link_of_the_menu_opens(request, role, signed_in, db):
    make_shop()
    client = signed_in(request.getfixturevalue(role))
    found = [url for url, _ in links(client) if not url.startswith("/back-office/")]
    assert len(found) >= 3
    assert {url: client.get(url).status_code for url in found} == dict.fromkeys(found, 200)


def test_plant_staff_find_the_floor_and_the_stock_and_customers_do_not(
    plant_worker, customer, signed_in
):
    floor = {"/planning/", "/tanks/", "/stock/plan/", "/jar-tests/", "/trace/", "/lots/"}
    assert floor <= {url for url, _ in links(signed_in(plant_worker))}
    assert not floor & {url for url, _ in links(signed_in(customer))}


def test_the_open_page_is_marked_and_no_other(plant_worker, signed_in):
    client = signed_in(plant_worker)
    assert [url for url, here in links(client, "/planning/") if here] == ["/planning/"]
