"""A quote drafted again: revised, quoted anew after it lapsed, copied for another customer."""

import pytest
from django.core import mail
from django.urls import reverse

from blendshop.errors import BadInput, ChangedMeanwhile, IllegalMove, NotAllowed
from blendshop.outbox.actions import deliver_overdue
from formulas.models import Blend, StockCost
from orders.models import Package, Quote
from orders.quoting.actions import quotes as actions
from orders.quoting.actions.versions import copy_quote, draft_next_version
from orders.quoting.draft_prices import DraftLine
from orders.quoting.links import quote_token, quote_url
from orders.quoting.quote_view import quote_view
from tests.factories import (
    CompanyFactory,
    CustomerTermsFactory,
    PriceTierFactory,
    ShipToFactory,
    in_days,
    today,
)
from tests.orders.planning.plant_cases import make_shop, save_half_slow, sent_quote

S = Quote.Status


def lines_of(quote):
    return list(
        quote.lines.values_list("revision", "package", "quantity", "n_rate_lb_per_1000sqft")
    )


def dearer_nitrogen():
    cost = StockCost.objects.get(stock__code="UAN")
    StockCost.objects.create(
        stock=cost.stock, amount=cost.amount * 2, unit=cost.unit, effective_from=today()
    )


def test_a_next_version_asks_for_the_same_at_todays_costs(sent, rep):
    dearer_nitrogen()
    draft = draft_next_version(quote=sent, acting_user=rep)
    assert (draft.status, draft.replaces, draft.company) == (S.DRAFT, sent, sent.company)
    assert lines_of(draft) == lines_of(sent)
    assert draft.total > sent.total
    assert draft.events.get().why == f"Drafted as the next version of {sent.number}."


def test_asked_twice_it_is_one_draft(sent, rep):
    first = draft_next_version(quote=sent, acting_user=rep)
    assert draft_next_version(quote=sent, acting_user=rep) == first


def test_until_it_is_sent_the_old_one_may_be_accepted_and_then_it_cannot_be_sent(sent, rep):
    draft = draft_next_version(quote=sent, acting_user=rep)
    actions.accept_quote(quote=sent, acting_user=None, name="Casey")
    draft.refresh_from_db()
    with pytest.raises(IllegalMove, match=f"{sent.number} is accepted meanwhile"):
        actions.send_quote(quote=draft, acting_user=rep)
    draft.refresh_from_db()
    assert draft.status == S.DRAFT


def test_who_accepts_while_it_is_sent_is_not_ordered_twice(sent, rep):
    """The row the sender read is older than the acceptance."""
    draft = draft_next_version(quote=sent, acting_user=rep)
    as_read = draft.replaces
    actions.accept_quote(quote=Quote.objects.get(pk=sent.pk), acting_user=None, name="Casey")
    assert as_read.status == S.SENT
    with pytest.raises(ChangedMeanwhile):
        actions.send_quote(quote=draft, acting_user=rep)
    assert Quote.objects.get(pk=draft.pk).status == S.DRAFT


def test_sent_it_takes_the_old_ones_place_on_link_paper_and_mail(sent, rep, customer, client):
    mail.outbox.clear()
    draft = draft_next_version(quote=sent, acting_user=rep)
    actions.send_quote(quote=draft, acting_user=rep)
    sent.refresh_from_db()
    assert sent.status == S.VOID
    assert sent.events.latest("pk").why == f"Replaced by {draft.number}."
    with pytest.raises(IllegalMove, match=f"is replaced by {draft.number}"):
        actions.accept_quote(quote=sent, acting_user=None, name="Casey")
    old_page = client.get(reverse("quote_public", args=[quote_token(sent)])).content.decode()
    assert f"{sent.number} is replaced by {draft.number}." in old_page
    assert f'href="{quote_url(draft)}"' in old_page
    assert quote_view(draft).replaces == sent.number
    deliver_overdue.call()
    (told,) = [each for each in mail.outbox if each.to == [customer.email]]
    assert f"It takes the place of our quote {sent.number}." in told.body


def test_a_link_leads_over_all_versions_to_the_last_that_went_out(sent, rep, client):
    second = draft_next_version(quote=sent, acting_user=rep)
    actions.send_quote(quote=second, acting_user=rep)
    third = draft_next_version(quote=second, acting_user=rep)
    assert Quote.objects.get(pk=sent.pk).newest_version == second
    actions.send_quote(quote=third, acting_user=rep)
    page = client.get(reverse("quote_public", args=[quote_token(sent)])).content.decode()
    assert quote_url(third) in page
    assert quote_url(second) not in page


@pytest.mark.parametrize("ended", [S.DECLINED, S.EXPIRED, S.VOID])
def test_what_was_declined_lapsed_or_withdrawn_is_quoted_again_and_stays_what_it_was(
    sent, rep, ended
):
    if ended == S.DECLINED:
        actions.decline_quote(quote=sent, acting_user=None, name="Casey")
    elif ended == S.EXPIRED:
        actions.expire_quotes(acting_user=None, today=in_days(31))
        sent.refresh_from_db()
    else:
        actions.withdraw_quote(quote=sent, acting_user=rep, why="Wrong yard.")
    draft = draft_next_version(quote=sent, acting_user=rep)
    actions.send_quote(quote=draft, acting_user=rep)
    sent.refresh_from_db()
    assert (sent.status, draft.status) == (ended, S.SENT)


def test_a_draft_and_an_order_have_no_next_version(draft, rep):
    with pytest.raises(IllegalMove, match="only a quote that went out"):
        draft_next_version(quote=draft, acting_user=rep)
    actions.send_quote(quote=draft, acting_user=rep)
    actions.accept_quote(quote=draft, acting_user=None, name="Casey")
    with pytest.raises(IllegalMove):
        draft_next_version(quote=draft, acting_user=rep)


@pytest.fixture
def solved(rep, company):
    """A sent quote of a blend that the plant solved for its customer."""
    make_shop()
    return sent_quote(rep, save_half_slow(rep, company), ShipToFactory(company=company))


def test_a_copy_is_at_the_other_customers_terms_and_address(solved, rep):
    other = CompanyFactory(name="Hillside Turf")
    dear = PriceTierFactory(name="Small lots", margin_pct=40, is_default=False)
    CustomerTermsFactory(company=other, tier=dear)
    yard = ShipToFactory(company=other)
    copy = copy_quote(quote=solved, company=other, acting_user=rep)
    assert (copy.company, copy.ship_to, copy.replaces) == (other, yard, None)
    assert copy.total > solved.total
    assert solved.lines.get().revision.blend.company != other
    (line,) = copy.lines.all()
    assert line.revision.blend.company == other
    assert line.revision.blend.name == solved.lines.get().revision.blend.name


def test_copied_twice_the_blend_is_saved_once(solved, rep):
    other = ShipToFactory(company=CompanyFactory(name="Hillside Turf")).company
    first = copy_quote(quote=solved, company=other, acting_user=rep)
    second = copy_quote(quote=solved, company=other, acting_user=rep)
    assert first != second
    assert Blend.objects.filter(company=other).count() == 1


def test_a_customer_without_an_address_is_named(sent, rep):
    other = CompanyFactory(name="Hillside Turf")
    with pytest.raises(BadInput, match="Hillside Turf has no address to ship to yet") as refused:
        copy_quote(quote=sent, company=other, acting_user=rep)
    assert "company" in refused.value.fields
    assert not Blend.objects.filter(company=other).exists()


def test_a_customer_drafts_nothing(sent, customer):
    with pytest.raises(NotAllowed):
        draft_next_version(quote=sent, acting_user=customer)
    with pytest.raises(NotAllowed):
        copy_quote(quote=sent, company=sent.company, acting_user=customer)


def test_the_buttons_lead_to_the_sheet_of_the_draft(sent, rep, signed_in):
    client = signed_in(rep)
    page = client.get(reverse("quote_detail", args=[sent.number])).content.decode()
    assert "Revise" in page
    answer = client.post(reverse("quote_next_version", args=[sent.number]), follow=True)
    draft = Quote.objects.get(replaces=sent)
    assert answer.redirect_chain[-1][0] == reverse("quote_edit", args=[draft.number])
    page = client.get(reverse("quote_detail", args=[sent.number])).content.decode()
    assert "Its next version is drafted" in page
    assert "Revise" not in page


def test_the_copy_page_leads_to_the_sheet_of_the_other_customers_draft(solved, rep, signed_in):
    client = signed_in(rep)
    assert client.get(reverse("quote_copy", args=[solved.number])).status_code == 200
    other = ShipToFactory(company=CompanyFactory(name="Hillside Turf")).company
    copied = client.post(reverse("quote_copy", args=[solved.number]), {"company": other.pk})
    assert copied.url == reverse("quote_edit", args=[Quote.objects.get(company=other).number])


def test_a_quote_is_mailed_to_addresses_without_a_login_once_each(world, customer):
    mail.outbox.clear()
    quote = actions.draft_quote(
        acting_user=world["rep"], company=world["company"], ship_to=world["ship_to"],
        lines=[DraftLine(revision=world["revision"], package=Package.objects.get(), quantity=2)],
        validity_days=30,
        mailed_to=["crew@elsewhere.example", customer.email.upper()],
    )  # fmt: skip
    told = actions.send_quote(quote=quote, acting_user=world["rep"])
    assert sorted(told) == sorted(["crew@elsewhere.example", customer.email])
    deliver_overdue.call()
    (theirs,) = [each for each in mail.outbox if each.to == ["crew@elsewhere.example"]]
    assert quote_url(quote) in theirs.body
