"""The back office: the office keeps prices and people, nobody edits what is final."""

import pytest
from django.apps import apps
from django.contrib import admin
from django.contrib.auth.models import Group
from django.urls import reverse

from blendshop.accounts.models import User
from blendshop.accounts.role_groups import BACK_OFFICE
from blendshop.back_office_site import words_of
from blendshop.outbox.models import Mail
from blendshop.roles import Role
from orders.models import Tank
from tests.factories import make_price_setup
from tests.orders.quoting.quote_cases import make_quotable

pytestmark = pytest.mark.django_db

OFFICE_TABLES = sorted(
    name for name in BACK_OFFICE[Role.OFFICE] if name.split(".")[0] in {"accounts", "orders"}
)


def group(role):
    return Group.objects.get(name=role.value).pk


@pytest.mark.parametrize("table", OFFICE_TABLES)
def test_the_office_opens_the_list_of_each_of_its_tables(
    signed_in, office, company, rep, customer, table
):
    make_quotable(company, rep)
    model = apps.get_model(table)
    client = signed_in(office)
    app, name = table.split(".")
    page = client.get(reverse(f"admin:{app}_{name}_changelist"))
    assert page.status_code == 200
    row = model.objects.first()
    if row is not None:
        opened = client.get(reverse(f"admin:{app}_{name}_change", args=[row.pk]))
        assert opened.status_code == 200


@pytest.mark.parametrize("table", OFFICE_TABLES)
def test_the_permissions_of_the_table_have_a_page(table):
    assert admin.site.is_registered(apps.get_model(table))


def test_what_has_a_page_of_its_own_is_not_in_the_back_office_which_says_where(
    signed_in, office, formulator
):
    for table in (
        "orders.PricePolicy", "orders.PriceTier", "orders.QuantityBreak", "orders.FreightZone",
        "orders.StateFee", "formulas.StockCost", "orders.Quote", "orders.Order", "orders.Batch",
        "formulas.Blend",
    ):  # fmt: skip
        assert not admin.site.is_registered(apps.get_model(table)), table
    text = signed_in(office).get("/back-office/").content.decode()
    for words in (
        'class="navbar-brand"', 'href="/prices/"', 'href="/stocks/costs/"',
        "People and customers", "Totes, drums and bulk", "Records, to look at",
    ):  # fmt: skip
        assert words in text, words
    text = signed_in(formulator).get("/back-office/").content.decode()
    assert "What must not meet in a tank" in text
    assert "Totes, drums and bulk" not in text
    assert 'href="/prices/"' not in text


def test_every_table_speaks_as_the_trade_does_on_its_pages_too(signed_in, office):
    make_price_setup()
    client, tank = signed_in(office), Tank.objects.get()
    changing = reverse("admin:orders_tank_change", args=[tank.pk])
    listed, added, changed = (
        client.get(address).content.decode()
        for address in (
            reverse("admin:orders_tank_changelist"),
            reverse("admin:orders_tank_add"),
            changing,
        )
    )
    assert "<title>Tanks and their scales · Back office</title>" in listed
    assert "<h1>Tanks and their scales</h1>" in listed
    assert ">Add a tank</a>" in listed
    assert "<h1>Add a tank</h1>" in added
    assert "<h1>Tank</h1>" in changed
    for page in (listed, added, changed):
        assert "&rsaquo;" in page
        assert ">Orders</a>" not in page.partition('class="breadcrumbs"')[2].partition("</nav>")[0]
        assert "Select tank to change" not in page
    for name in set().union(*BACK_OFFICE.values()):
        table = admin.site._registry.get(apps.get_model(name))
        if table is None:  # rows on the page of another table
            continue
        assert words_of(table.opts.label_lower) is not None, name
        assert table.search_help_text or not table.search_fields, name


def test_there_is_one_plant_profile(signed_in, office):
    make_price_setup()
    assert signed_in(office).get(reverse("admin:orders_plantprofile_add")).status_code == 403


def person_data(**changes):
    return {
        "email": "New@Plant.example",
        "name": "Nan New",
        "groups": [group(Role.REP)],
        **changes,
    }


def test_the_office_adds_a_person_who_chooses_a_password_by_the_mailed_link(signed_in, office):
    signed_in(office).post(reverse("admin:accounts_user_add"), person_data())
    person = User.objects.get(email="new@plant.example")
    assert [role.name for role in person.groups.all()] == ["rep"]
    assert not person.has_usable_password()
    invitation = Mail.objects.get(to=person.email)
    assert "/people/password/reset/key/" in invitation.text


def test_roles_and_company_must_fit_each_other(signed_in, office, company):
    client, add = signed_in(office), reverse("admin:accounts_user_add")
    no_company = client.post(add, person_data(groups=[group(Role.CUSTOMER)]))
    assert "A customer belongs to a company" in no_company.content.decode()
    with_company = client.post(add, person_data(company=company.pk))
    assert "does not belong to a customer" in with_company.content.decode()
    assert not User.objects.filter(name="Nan New").exists()


def test_the_office_cannot_make_or_change_a_superuser(signed_in, office):
    root = User.objects.create_superuser("root@plant.example", "x-long-enough-1", name="Root")
    client = signed_in(office)
    client.post(reverse("admin:accounts_user_add"), person_data(is_superuser="on"))
    person = User.objects.get(email="new@plant.example")
    assert not person.is_superuser
    change = reverse("admin:accounts_user_change", args=[person.pk])
    client.post(change, {**person_data(name="Nan Two"), "is_superuser": "on", "is_active": "on"})
    person.refresh_from_db()
    assert (person.name, person.is_superuser) == ("Nan Two", False)
    for name in ("admin:accounts_user_change", "admin:auth_user_password_change"):
        answer = client.post(reverse(name, args=[root.pk]), person_data())
        assert answer.status_code == 403
    root.refresh_from_db()
    assert (root.name, root.check_password("x-long-enough-1")) == ("Root", True)
