"""Pages about quotes: each role sees its own part, and they work without JavaScript."""

import re
from decimal import Decimal

import pytest
from django.urls import reverse

from blendshop.outbox.models import Mail
from formulas.models import BaseStock
from orders.models import Order, Package, Quote
from orders.quoting.actions import quotes as actions
from orders.quoting.draft_prices import DraftLine
from orders.quoting.links import quote_token
from tests.factories import ShipToFactory
from tests.orders.quoting.quote_cases import make_revision

pytestmark = pytest.mark.django_db
#: What the plant keeps to itself; none of it may reach a customer's page.
HOUSE_WORDS = ["margin", "cost", "shrink", "blending,", "laboratory", "floor", "tier", "approv"]


def house_words(response):
    """Those a page says above its foot, where every page tells who approves labels."""
    page = response.content.decode().lower().partition("<footer")[0]
    return [word for word in HOUSE_WORDS if word in page]


def sheet(world, lines=1, **changes):
    """What a browser posts from the sheet; every line the same."""
    data = {
        "company": world["company"].pk,
        "ship_to": world["ship_to"].pk,
        "validity_days": 30,
        "notes": "",
        "line-TOTAL_FORMS": lines,
        "line-INITIAL_FORMS": lines,
        "line-MIN_NUM_FORMS": 1,
        "line-MAX_NUM_FORMS": 20,
    }
    for index in range(lines):
        data |= {
            f"line-{index}-revision": world["revision"].pk,
            f"line-{index}-package": Package.objects.get().pk,
            f"line-{index}-quantity": index + 1,
            f"line-{index}-n_rate": "",
            f"line-{index}-margin_pct": "",
        }
    return {**data, **changes}


def text_of(response):
    """The readable text of a page, without head, navigation and markup."""
    main = re.search(r"<main.*?</main>", response.content.decode(), re.DOTALL)[0]
    return re.sub(r"<[^>]+>", " ", main)


@pytest.mark.parametrize("name", ["quote_detail", "quote_pdf"])
def test_a_stranger_and_the_plant_do_not_find_the_quote(
    signed_in, stranger, plant_worker, sent, name
):
    address = reverse(name, args=[sent.number])
    assert signed_in(stranger).get(address).status_code == 404
    assert signed_in(plant_worker).get(address).status_code == 403


def test_the_customer_does_not_find_a_draft(signed_in, customer, draft):
    assert signed_in(customer).get(reverse("quote_detail", args=[draft.number])).status_code == 404
    assert draft.number not in text_of(signed_in(customer).get(reverse("quote_list")))


def test_the_customer_reads_prices_and_no_word_of_the_house(signed_in, customer, sent):
    response = signed_in(customer).get(reverse("quote_detail", args=[sent.number]))
    text = text_of(response)
    assert f"{sent.total:,.2f}" in text
    assert "Deliver by the back gate." in text
    assert house_words(response) == []


def test_the_signed_out_reader_sees_no_word_of_the_house_either(client, sent):
    response = client.get(reverse("quote_public", args=[quote_token(sent)]))
    assert f"{sent.total:,.2f}" in text_of(response)
    assert house_words(response) == []


def test_the_rep_sees_every_step_with_its_reason(signed_in, rep, draft):
    text = text_of(signed_in(rep).get(reverse("quote_detail", args=[draft.number])))
    for step in draft.lines.get().price_breakdown.steps:
        assert step.label in text
    assert "1.5 % shrink on material" in text
    assert "Margin reached" in text
    assert "Drafted." in text


def test_a_formulator_reads_and_may_not_move(signed_in, formulator, draft):
    client = signed_in(formulator)
    text = text_of(client.get(reverse("quote_detail", args=[draft.number])))
    assert "Send to" not in text
    send = client.post(reverse("quote_send", args=[draft.number]), {"do": "send"})
    assert send.status_code == 403


def test_the_list_finds_by_number_company_and_blend(signed_in, rep, draft, world):
    client = signed_in(rep)
    for word in (draft.number[-4:], "brookmeadow", "spring"):
        assert draft.number in text_of(client.get(reverse("quote_list"), {"q": word}))
    assert draft.number not in text_of(client.get(reverse("quote_list"), {"q": "autumn"}))
    assert draft.number not in text_of(client.get(reverse("quote_list"), {"status": "sent"}))


def test_the_list_costs_the_same_for_three_rows_and_for_many(
    signed_in, rep, draft, world, django_assert_max_num_queries
):
    client = signed_in(rep)
    for _ in range(12):
        actions.draft_quote(
            acting_user=rep,
            company=world["company"],
            ship_to=world["ship_to"],
            lines=[
                DraftLine(revision=world["revision"], package=Package.objects.get(), quantity=1)
            ],
            validity_days=30,
        )
    with django_assert_max_num_queries(10):
        client.get(reverse("quote_list"))


def test_the_office_finds_what_waits_for_it_on_top(signed_in, office, rep, draft, world):
    actions.change_draft(
        quote=draft,
        acting_user=rep,
        company=world["company"],
        ship_to=world["ship_to"],
        lines=[
            DraftLine(
                revision=world["revision"],
                package=Package.objects.get(),
                quantity=1,
                margin_pct=Decimal(2),
            )
        ],
        validity_days=30,
    )
    signed_in(rep).post(
        reverse("quote_send", args=[draft.number]),
        {"do": "send", "seen_total": draft.total, "why": "A yard next door."},
    )
    client = signed_in(office)
    assert "Waiting for your approval" in text_of(client.get(reverse("quote_list")))
    page = text_of(client.get(reverse("quote_detail", args=[draft.number])))
    assert "below the floor of 12 %" in page
    assert f"{rep.name}: A yard next door." in page.partition("Your decision")[0]
    refused = client.post(
        reverse("quote_approve", args=[draft.number]), {"decision": "send_back", "why": ""}
    )
    assert refused.status_code == 400
    assert re.search("Your decision.*Give a reason", text_of(refused), re.DOTALL)
    answer = {"decision": "send_back", "why": "Half of it."}
    client.post(reverse("quote_approve", args=[draft.number]), answer)
    page = text_of(signed_in(rep).get(reverse("quote_detail", args=[draft.number])))
    assert f"{office.name}: Half of it." in page.partition("History")[0]
    signed_in(rep).post(
        reverse("quote_send", args=[draft.number]),
        {"do": "send", "seen_total": draft.total, "why": "A yard next door."},
    )
    client = signed_in(office)
    client.post(reverse("quote_approve", args=[draft.number]), {"decision": "approve"})
    assert Quote.objects.get(pk=draft.pk).status == "sent"
    assert "Waiting for your approval" not in text_of(client.get(reverse("quote_list")))


def test_a_rep_may_not_approve(signed_in, rep, draft):
    address = reverse("quote_approve", args=[draft.number])
    assert signed_in(rep).post(address, {"decision": "approve"}).status_code == 403


def test_a_sheet_opened_from_a_blend_is_for_its_customer(signed_in, rep, world):
    page = signed_in(rep).get(reverse("quote_new"), {"revision": world["revision"].pk})
    form = page.context["sheet"].form
    assert form["company"].value() == world["company"].pk
    assert form["ship_to"].value() == world["ship_to"].pk
    assert page.context["sheet"].lines[0]["revision"].value() == world["revision"].pk
    assert page.context["sheet"].lines[0]["package"].value() == Package.objects.get().pk
    assert signed_in(rep).get(reverse("quote_new"), {"revision": "x"}).status_code == 404
    assert signed_in(rep).get(reverse("quote_new"), {"revision": 9999}).status_code == 404


def test_a_sheet_begins_with_what_the_blend_page_knows(signed_in, rep, world):
    book = make_revision(None, rep, name="House blend")
    place = ShipToFactory(company=world["company"], label="West yard")
    asked = {
        "revision": book.pk,
        "company": world["company"].pk,
        "ship_to": place.pk,
        "package": "tote-265",
        "quantity": "4",
        "n_rate": "0.7",
    }
    opened = signed_in(rep).get(reverse("quote_new"), asked).context["sheet"]
    assert opened.form["company"].value() == world["company"].pk
    assert opened.form["ship_to"].value() == place.pk
    assert opened.lines[0]["quantity"].value() == 4
    assert opened.lines[0]["n_rate"].value() == "0.7"


def test_a_new_sheet_goes_where_the_last_quote_went(signed_in, rep, world):
    place = ShipToFactory(company=world["company"], label="West yard")
    asked = {"revision": world["revision"].pk}
    first = signed_in(rep).get(reverse("quote_new"), asked).context["sheet"]
    assert first.form["ship_to"].value() == world["ship_to"].pk
    signed_in(rep).post(reverse("quote_new"), sheet(world, do="save", ship_to=place.pk))
    again = signed_in(rep).get(reverse("quote_new"), asked).context["sheet"]
    assert again.form["ship_to"].value() == place.pk


def test_a_saved_sheet_is_a_priced_draft(signed_in, rep, world):
    answer = signed_in(rep).post(reverse("quote_new"), sheet(world, lines=2, do="save"))
    quote = Quote.objects.get()
    assert answer.url == reverse("quote_detail", args=[quote.number])
    assert [line.quantity for line in quote.lines.all()] == [1, 2]
    assert quote.total > 0


def test_lines_come_and_go_by_buttons_and_nothing_typed_is_lost(signed_in, rep, world):
    client = signed_in(rep)
    typed = sheet(world, lines=2, notes="By the gate.", **{"line-1-quantity": "7"})
    more = client.post(reverse("quote_new"), {**typed, "do": "add"}).context["sheet"]
    assert [line["quantity"].value() for line in more.lines] == ["1", "7", "1"]
    less = client.post(reverse("quote_new"), {**typed, "do": "remove-0"}).context["sheet"]
    assert [line["quantity"].value() for line in less.lines] == ["7"]
    assert less.form["notes"].value() == "By the gate."
    last = client.post(reverse("quote_new"), {**sheet(world), "do": "remove-0"}).context["sheet"]
    assert len(last.lines.forms) == 1
    assert not Quote.objects.exists()


def test_changing_the_customer_offers_its_addresses_and_blends(signed_in, rep, world, stranger):
    theirs = make_revision(stranger.company, rep, name="Elsewhere mix")
    asked = sheet(world, company=stranger.company.pk, do="refresh")
    page = signed_in(rep).post(reverse("quote_new"), asked)
    offered = page.context["sheet"]
    assert list(offered.form.fields["ship_to"].queryset) == []
    assert theirs in offered.lines[0].fields["revision"].queryset
    saved = signed_in(rep).post(reverse("quote_new"), {**asked, "do": "save"})
    assert saved.status_code == 400


def test_the_price_appears_before_anything_is_saved(signed_in, rep, world):
    client = signed_in(rep)
    whole = client.post(reverse("quote_new"), sheet(world, do="preview"))
    assert "Margin reached" in text_of(whole)
    assert "Line 1 at other quantities" in text_of(whole)
    part = client.post(
        reverse("quote_new"), sheet(world, do="preview"), headers={"HX-Request": "true"}
    )
    assert "<html" not in part.content.decode()
    assert part.content.decode().strip() in whole.content.decode()
    assert not Quote.objects.exists()


def test_a_price_that_cannot_be_is_said_in_a_sentence(signed_in, rep, world):
    client = signed_in(rep)
    incomplete = client.post(reverse("quote_new"), sheet(world, do="preview", ship_to=""))
    assert "once customer, address and lines are complete" in text_of(incomplete)
    BaseStock.objects.filter(code="UAN").update(retired_on="2024-01-01")
    retired = client.post(reverse("quote_new"), sheet(world, do="preview"))
    assert "is retired since 2024-01-01" in text_of(retired)
    saved = client.post(reverse("quote_new"), sheet(world, do="save"))
    assert saved.status_code == 400
    assert "is retired since 2024-01-01" in text_of(saved)


@pytest.mark.parametrize(
    "wrong",
    [
        {"line-0-quantity": "0"},
        {"line-0-quantity": "two"},
        {"line-0-margin_pct": "100"},
        {"line-0-n_rate": "nan"},
        {"validity_days": "0"},
        {"line-TOTAL_FORMS": "x"},
        {"line-TOTAL_FORMS": "0"},
    ],
)
def test_a_wrong_sheet_is_shown_again_and_saves_nothing(signed_in, rep, world, wrong):
    answer = signed_in(rep).post(reverse("quote_new"), sheet(world, do="save", **wrong))
    assert answer.status_code == 400
    assert not Quote.objects.exists()


def test_a_draft_is_edited_and_a_sent_quote_is_not(signed_in, rep, world, draft):
    client = signed_in(rep)
    address = reverse("quote_edit", args=[draft.number])
    page = client.get(address)
    assert page.context["sheet"].lines[0]["quantity"].value() == 2
    client.post(address, sheet(world, do="save", validity_days=7))
    draft.refresh_from_db()
    assert (draft.validity_days, draft.lines.get().quantity) == (7, 1)
    actions.send_quote(quote=draft, acting_user=rep)
    assert client.get(address).status_code == 409
    assert client.post(address, sheet(world, do="save")).status_code == 409


def test_sending_from_the_page_sends_the_figure_that_was_read(signed_in, rep, draft):
    client, address = signed_in(rep), reverse("quote_send", args=[draft.number])
    stale = client.post(address, {"do": "send", "seen_total": "1.00"})
    assert stale.status_code == 409
    draft.refresh_from_db()
    assert draft.status == "draft"
    client.post(address, {"do": "send", "seen_total": str(draft.total)})
    draft.refresh_from_db()
    assert draft.status == "sent"
    page = client.get(reverse("quote_detail", args=[draft.number]))
    assert "/q/" in page.content.decode()
    pdf = client.get(reverse("quote_pdf", args=[draft.number]))
    assert pdf.content.startswith(b"%PDF")


def test_a_draft_has_no_paper_yet(signed_in, rep, draft):
    assert signed_in(rep).get(reverse("quote_pdf", args=[draft.number])).status_code == 404


def test_the_signed_in_customer_accepts(signed_in, customer, sent):
    client, address = signed_in(customer), reverse("quote_decide", args=[sent.number])
    answer = {"decision": "accept", "name": "Casey Owner"}
    asked = client.post(address, answer)
    assert f"Accept ${sent.total:,.2f}" in text_of(asked)
    assert not Order.objects.exists()
    answer = client.post(address, {**answer, "agreed": "on"})
    order = Order.objects.get()
    assert answer.url == reverse("order_detail", args=[order.number])
    assert order.quote == sent


@pytest.mark.parametrize("who", ["link", "customer", "rep"])
def test_a_refused_answer_keeps_what_was_typed_and_says_what_is_missing(
    client, signed_in, customer, rep, sent, who
):
    address = reverse("quote_decide", args=[sent.number])
    if who == "link":
        address = reverse("quote_public", args=[quote_token(sent)])
    else:
        client = signed_in({"customer": customer, "rep": rep}[who])
    answer = {"decision": "decline", "name": " ", "why": "Too dear by half."}
    page = client.post(address, answer)
    assert page.status_code == 400
    assert Quote.objects.get().status == "sent"
    html = page.content.decode()
    assert sent.number in text_of(page)
    assert 'value="Too dear by half."' in html
    # What is missing is said at the form that was sent, which is open, and at no other.
    assert html.count("This field is required.") == 1
    field = html.partition('value="Too dear by half."')[0].rpartition("<form")[2]
    assert "This field is required." in field
    if who != "rep":
        assert '<details class="mb-3" open>' in html


def test_a_stranger_cannot_answer_for_the_customer(signed_in, stranger, sent):
    address = reverse("quote_decide", args=[sent.number])
    answer = signed_in(stranger).post(address, {"decision": "accept", "name": "Sam"})
    assert answer.status_code == 404
    assert not Order.objects.exists()


def test_withdrawing_needs_a_reason_and_the_customer_then_reads_withdrawn(
    signed_in, rep, customer, sent
):
    address = reverse("quote_withdraw", args=[sent.number])
    refused = signed_in(rep).post(address, {"why": ""})
    assert refused.status_code == 400
    assert re.search("Withdraw .*This field is required", text_of(refused), re.DOTALL)
    signed_in(rep).post(address, {"why": "priced for the wrong place"})
    page = signed_in(customer).get(reverse("quote_detail", args=[sent.number]))
    assert "withdrawn" in text_of(page)
    assert "wrong place" not in text_of(page)
    assert 'value="accept"' not in page.content.decode()


@pytest.mark.parametrize("name", ["quote_send", "quote_approve", "quote_withdraw", "quote_decide"])
def test_moves_are_posts(signed_in, office, sent, name):
    assert signed_in(office).get(reverse(name, args=[sent.number])).status_code == 405


def test_two_reps_on_one_draft_do_not_overwrite_each_other(signed_in, rep, office, world, draft):
    address = reverse("quote_edit", args=[draft.number])
    seen = signed_in(rep).get(address).context["seen_event"]
    colleague = sheet(world, do="save", seen_event=seen, validity_days=14)
    assert signed_in(office).post(address, colleague).status_code == 302
    late = signed_in(rep).post(address, sheet(world, do="save", seen_event=seen, validity_days=60))
    assert late.status_code == 409
    draft.refresh_from_db()
    assert draft.validity_days == 14


def test_the_rep_hears_when_nobody_can_be_mailed(signed_in, rep, draft):
    address = reverse("quote_send", args=[draft.number])
    page = signed_in(rep).post(address, {"do": "send", "seen_total": str(draft.total)}, follow=True)
    assert "no mail goes out" in text_of(page)
    assert not Mail.objects.exists()


def test_a_page_of_many_lines_asks_the_tables_once(
    signed_in, rep, world, django_assert_max_num_queries
):
    line = DraftLine(revision=world["revision"], package=Package.objects.get(), quantity=1)
    quote = actions.draft_quote(
        acting_user=rep,
        company=world["company"],
        ship_to=world["ship_to"],
        lines=[line] * 10,
        validity_days=30,
    )
    client = signed_in(rep)
    with django_assert_max_num_queries(55):
        client.get(reverse("quote_detail", args=[quote.number]))


def test_a_slip_in_an_address_to_mail_to_hides_no_price(draft, rep, signed_in):
    line = draft.lines.get()
    typed = {
        "do": "preview", "company": draft.company_id, "ship_to": draft.ship_to_id,
        "validity_days": 30, "mailed_to": "crew@elsewhere.example, crew",
        "line-TOTAL_FORMS": 1, "line-INITIAL_FORMS": 0, "line-0-revision": line.revision_id,
        "line-0-package": line.package_id, "line-0-quantity": 2,
    }  # fmt: skip
    url = reverse("quote_edit", args=[draft.number])
    shown = signed_in(rep).post(url, typed, headers={"HX-Request": "true"}).content.decode()
    assert f"${draft.total:,.2f}" in shown
    refused = signed_in(rep).post(url, typed | {"do": "save"})
    assert refused.status_code == 400
    assert "“crew” is no mail address." in refused.content.decode()
