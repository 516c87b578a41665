"""Where the pages say whether a label is approved, and who finds the button."""

from django.urls import reverse

from orders.frozen.approved_label import ApprovedLabel
from orders.labels.actions import (
    issue_label_draft,
)
from orders.labels.standing import label_state
from orders.labels.waiting import labels_here, waiting_labels
from tests.orders.labels.approvals import approve, label_url, planned_again


def test_batch_and_order_page_say_whether_the_label_is_approved(
    part, order, plant_worker, formulator, signed_in
):
    client = signed_in(plant_worker)
    pages = [
        reverse("batch_detail", args=[part.batch.number]),
        reverse("order_detail", args=[order.number]),
    ]
    for url in pages:
        html = client.get(url).content.decode()
        assert "Label not approved." in html
        assert label_url(part) in html
    approve(part, formulator)
    for url in pages:
        assert f"Label approved by {formulator} on" in client.get(url).content.decode()


def test_only_a_formulator_sees_the_button_and_others_what_is_missing(
    part, plant_worker, formulator, signed_in
):
    assert "Approve this label" in signed_in(formulator).get(label_url(part)).content.decode()
    html = signed_in(plant_worker).get(label_url(part)).content.decode()
    assert "Approve this label" not in html
    assert "A formulator approves it; until then nothing under this label ships." in html


def test_labels_that_wait_stand_in_one_list_each_label_once(
    part, order, office_and_plant, formulator, signed_in
):
    later = planned_again(order, office_and_plant)
    (waiting,) = waiting_labels(labels_here(formulator))
    assert {state.part for state in waiting.states} == {part, later}
    client = signed_in(formulator)
    html = client.get(reverse("labels_waiting")).content.decode()
    assert part.batch.number in html
    assert later.batch.number in html
    assert reverse("labels_waiting") in client.get(reverse("batch_list")).content.decode()
    approve(part, formulator)
    assert waiting_labels(labels_here(formulator)) == []
    assert "every label of a planned or made load stands approved" in (
        client.get(reverse("labels_waiting")).content.decode()
    )


def test_a_customer_finds_the_label_named_for_what_it_is(
    part, order, customer, formulator, signed_in
):
    url = reverse("order_detail", args=[order.number])
    client = signed_in(customer)
    issue_label_draft(part=part, acting_user=formulator)
    html = client.get(url).content.decode()
    assert f"Label draft of lot {part.batch.number}" in html
    assert "A draft is for review" in html
    approve(part, formulator)
    issue_label_draft(part=part, acting_user=formulator)
    assert f"Label of lot {part.batch.number}" in client.get(url).content.decode()


def test_nothing_is_said_of_drafts_where_every_label_is_approved(
    part, order, customer, formulator, signed_in
):
    approve(part, formulator)
    issue_label_draft(part=part, acting_user=formulator)
    html = signed_in(customer).get(reverse("order_detail", args=[order.number])).content.decode()
    assert f"Label of lot {part.batch.number}" in html
    assert "A draft is for review" not in html


def test_a_record_of_what_was_approved_reads_back(part, formulator):
    now = label_state(part).now
    assert ApprovedLabel.from_json(now.to_json()) == now
