"""The codes on labels, packages and certificates: a customer to its papers, staff to the batch."""

from decimal import Decimal

import pytest
from django.urls import reverse

from orders.models import Batch, PackageSerial, Paper
from orders.papers.actions import issue_packing_list
from orders.recall.actions import free_all, hold_all, open_recall
from tests.orders.production.charging_cases import new_key

WORDS = "It may burn turf at the usual rate."


@pytest.fixture
def part(batch):
    return batch.parts.get()


@pytest.fixture
def package(part, plant_worker):
    Batch.objects.filter(pk=part.batch_id).update(status="released")
    return PackageSerial.objects.create(
        part=part,
        serial=f"{part.batch.number}-01",
        net_lb=Decimal("2749.5"),
        key=new_key(),
        by=plant_worker,
        who=str(plant_worker),
    )


@pytest.fixture
def addresses(part, package):
    return (
        reverse("package_page", args=[package.serial]),
        reverse("part_page", args=[part.batch.number, part.position]),
    )


def test_the_customer_finds_order_papers_and_cautions_of_its_package(
    package, plant_worker, customer, signed_in
):
    order = package.part.order_line.order
    packing = issue_packing_list(order=order, acting_user=plant_worker)
    answer = signed_in(customer).get(reverse("package_page", args=[package.serial]))
    page = answer.content.decode()
    for text in (
        package.part.product_name,
        package.serial,
        "net 2,749.5 lb",
        reverse("order_detail", args=[order.number]),
        reverse("paper", args=[packing.pk]),
        "Do not apply near water",
        "Local codes",
    ):
        assert text in page
    assert reverse("batch_detail", args=[package.part.batch.number]) not in page


def test_of_each_paper_the_customer_finds_the_newest(package, plant_worker, customer, signed_in):
    order = package.part.order_line.order
    first = issue_packing_list(order=order, acting_user=plant_worker)
    order.customer_reference = "PO 7"
    order.save()
    second = issue_packing_list(order=order, acting_user=plant_worker)
    page = signed_in(customer).get(reverse("package_page", args=[package.serial])).content.decode()
    assert reverse("paper", args=[second.pk]) in page
    assert reverse("paper", args=[first.pk]) not in page


def test_staff_are_led_to_the_batch(
    addresses, part, rep, plant_worker, formulator, office, signed_in
):
    batch = reverse("batch_detail", args=[part.batch.number])
    for person in (rep, plant_worker, formulator, office):
        for address in addresses:
            assert signed_in(person).get(address)["Location"] == batch


def test_another_company_learns_nothing_not_even_that_it_exists(addresses, stranger, signed_in):
    client = signed_in(stranger)
    for address in addresses:
        known, unknown = client.get(address), client.get(f"{address[:-3]}99/")
        assert known.status_code == unknown.status_code == 404
        assert "Half slow" not in known.content.decode()


def test_nobody_is_asked_to_sign_in_and_led_back(addresses, client):
    for address in addresses:
        answer = client.get(address)
        assert answer.status_code == 302
        assert answer["Location"] == f"/people/login/?next={address}"


def test_a_package_that_is_called_back_says_so_first_and_only_to_its_customer(
    package, part, customer, formulator, signed_in
):
    address = reverse("package_page", args=[package.serial])
    client = signed_in(customer)
    assert "Called back" not in client.get(address).content.decode()
    recall = open_recall(
        source=part.batch.number,
        reason="Supplier sent the wrong acid.",
        customer_reason=WORDS,
        acting_user=formulator,
    )
    hold_all(recall=recall, acting_user=formulator)
    page = client.get(address).content.decode()
    assert "Called back: do not use it." in page
    assert WORDS in page
    assert "wrong acid" not in page
    free_all(recall=recall, why="A slip.", acting_user=formulator)
    assert WORDS not in client.get(address).content.decode()


def test_the_page_says_when_there_is_no_paper_yet(package, customer, signed_in):
    page = signed_in(customer).get(reverse("package_page", args=[package.serial])).content.decode()
    assert not Paper.objects.visible_to(customer).filter(part=package.part).exists()
    assert "No certificate or label is issued yet" in page
