"""The full square of a quote's states: what may happen works once, all else is refused."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.management import call_command

from blendshop.errors import BadInput, ChangedMeanwhile, DomainError, IllegalMove, NotAllowed
from blendshop.immutable import WrittenOnce
from blendshop.outbox.actions import deliver_overdue
from blendshop.outbox.models import Mail
from formulas.models import BaseStock, StockCost
from orders.frozen.line_price import LinePrice, RecipeShare
from orders.models import Order, Package, Paper, Quote, QuoteEvent, QuoteLine
from orders.quoting.actions import quotes as actions
from orders.quoting.draft_prices import DraftLine
from tests.factories import ShipToFactory, in_days, today
from tests.orders.quoting.quote_cases import make_revision
from tests.remembered_rows import RememberedRows

pytestmark = pytest.mark.django_db
S = Quote.Status
#: Far below the floor of 12 %.
LOW = Decimal("3.00")


def line(world, **changes):
    asked = {
        "revision": world["revision"],
        "package": Package.objects.get(code="tote-265"),
        "quantity": 2,
    }
    return DraftLine(**{**asked, **changes})


def draft(world, **changes):
    """A draft of one line; ``margin_pct=LOW`` puts it below the floor."""
    return actions.draft_quote(
        acting_user=world["rep"],
        company=world["company"],
        ship_to=world["ship_to"],
        lines=[line(world, **changes)],
        validity_days=30,
    )


def _send_two_totes(rep, company, revision, ship_to):
    world = {"rep": rep, "company": company, "revision": revision, "ship_to": ship_to}
    quote = draft(world)
    actions.send_quote(quote=quote, acting_user=rep)
    return quote


_SENT = RememberedRows(_send_two_totes)


def in_state(world, status, office):
    """A quote brought to a state by the actions themselves."""
    if status in {S.DRAFT, S.AWAITING_APPROVAL, S.VOID}:
        quote = draft(world, margin_pct=LOW if status == S.AWAITING_APPROVAL else None)
    else:
        quote = _SENT(*(world[each] for each in ("rep", "company", "revision", "ship_to")))
    if status == S.AWAITING_APPROVAL:
        actions.submit_quote(quote=quote, acting_user=world["rep"], why="A yard next door.")
    elif status == S.VOID:
        actions.withdraw_quote(quote=quote, acting_user=world["rep"], why="wrong blend")
    if status == S.ACCEPTED:
        actions.accept_quote(quote=quote, acting_user=None, name="Casey")
    elif status == S.DECLINED:
        actions.decline_quote(quote=quote, acting_user=None, name="Casey")
    elif status == S.EXPIRED:
        assert actions.expire_quotes(acting_user=None, today=in_days(31)) == [quote.number]
        quote.refresh_from_db()
    assert quote.status == status
    return quote


#: Target state -> how one gets there from each state that may (None: from any that may).
def make_move(quote, to, rep, office):
    match to:
        case S.AWAITING_APPROVAL:
            actions.submit_quote(quote=quote, acting_user=rep, why="A yard next door.")
        case S.SENT if quote.status == S.AWAITING_APPROVAL:
            actions.approve_quote(quote=quote, acting_user=office)
        case S.SENT:
            actions.send_quote(quote=quote, acting_user=rep)
        case S.DRAFT:
            actions.send_back(quote=quote, acting_user=office, why="raise the price")
        case S.ACCEPTED:
            actions.accept_quote(quote=quote, acting_user=None, name="Casey")
        case S.DECLINED:
            actions.decline_quote(quote=quote, acting_user=None, name="Casey")
        case S.VOID:
            actions.withdraw_quote(quote=quote, acting_user=rep, why="no longer offered")
        case S.EXPIRED:
            if not actions.expire_quotes(acting_user=None, today=in_days(400)):
                raise IllegalMove("Nothing to expire.")


SQUARE = [(old, new) for old in S for new in S]


@pytest.mark.parametrize(("old", "new"), [p for p in SQUARE if p[1] in Quote.MOVES[p[0]]])
def test_an_allowed_move_works_and_leaves_one_event(world, rep, office, old, new):
    quote = in_state(world, old, office)
    if (old, new) == (S.DRAFT, S.AWAITING_APPROVAL):
        QuoteLine.objects.filter(quote=quote).update(margin_pct=LOW)
    before = quote.events.count()
    make_move(quote, new, rep, office)
    quote.refresh_from_db()
    assert quote.status == new
    (event,) = quote.events.all()[before:]
    assert (event.from_status, event.to_status) == (old, new)
    assert event.who


#: Asked again, an answer that was already given changes nothing and is no error.
ASKED_AGAIN = {(S.ACCEPTED, S.ACCEPTED), (S.DECLINED, S.DECLINED)}


@pytest.mark.parametrize(
    ("old", "new"),
    [p for p in SQUARE if p[1] not in Quote.MOVES[p[0]] and p not in ASKED_AGAIN],
)
def test_any_other_move_is_refused_in_a_sentence_and_changes_nothing(world, rep, office, old, new):
    quote = in_state(world, old, office)
    row = Quote.objects.filter(pk=quote.pk).values().get()
    events, orders, papers = quote.events.count(), Order.objects.count(), Paper.objects.count()
    mails_before = Mail.objects.count()
    with pytest.raises(DomainError, match=r"\w.*\.$"):
        make_move(quote, new, rep, office)
    assert Quote.objects.filter(pk=quote.pk).values().get() == row
    assert (quote.events.count(), Order.objects.count(), Paper.objects.count()) == (
        events,
        orders,
        papers,
    )
    assert Mail.objects.count() == mails_before


def test_accepting_twice_gives_the_same_order_and_no_second_event(world, office):
    quote = in_state(world, S.SENT, office)
    stale = Quote.objects.get(pk=quote.pk)
    order = actions.accept_quote(quote=quote, acting_user=None, name="Casey")
    events = QuoteEvent.objects.count()
    assert actions.accept_quote(quote=quote, acting_user=None, name="Casey") == order
    # The same click in another process still believes the quote is open.
    assert actions.accept_quote(quote=stale, acting_user=None, name="Casey") == order
    assert QuoteEvent.objects.count() == events
    assert order.total == quote.total


def test_declining_twice_changes_nothing(world, office):
    quote = in_state(world, S.DECLINED, office)
    events = QuoteEvent.objects.count()
    actions.decline_quote(quote=quote, acting_user=None, name="Casey")
    assert QuoteEvent.objects.count() == events


def test_somebody_faster_wins_and_the_slower_is_told(world, rep, office):
    quote = in_state(world, S.SENT, office)
    slower = Quote.objects.get(pk=quote.pk)
    actions.withdraw_quote(quote=quote, acting_user=rep, why="mistake")
    with pytest.raises(ChangedMeanwhile, match="meanwhile"):
        actions.decline_quote(quote=slower, acting_user=None, name="Casey")


def test_a_sent_quote_keeps_its_figures_when_costs_change(world, office):
    quote = in_state(world, S.SENT, office)
    row = QuoteLine.objects.filter(quote=quote).values().get()
    total = quote.total
    StockCost.objects.create(
        stock=BaseStock.objects.get(code="UAN"),
        effective_from=today(),
        amount=Decimal("2.5000"),
        unit="lb",
    )
    assert QuoteLine.objects.filter(quote=quote).values().get() == row
    assert Quote.objects.get(pk=quote.pk).total == total
    price = LinePrice.from_json(row["price"])
    assert price.blend.recipe == (
        RecipeShare("UAN", "urea ammonium nitrate solution", 50.0),
        RecipeShare("WATER", "water", 50.0),
    )
    assert price.blend.analysis["N"] == pytest.approx(16.0)
    assert price.material[0].cost_per_lb == Decimal("0.18")
    assert draft(world).total > total


def test_no_road_leads_to_the_lines_of_a_quote_that_is_no_draft(world, office):
    quote = in_state(world, S.SENT, office)
    row = quote.lines.get()
    roads = [
        row.save,
        row.delete,
        quote.lines.all().delete,
        quote.delete,
        Quote.objects.filter(pk=quote.pk).delete,
        lambda: quote.lines.update(quantity=9),
        lambda: QuoteLine.objects.bulk_update([row], ["quantity"]),
        lambda: QuoteLine.objects.bulk_create([QuoteLine(quote=quote, position=2)]),
    ]
    for road in roads:
        with pytest.raises(WrittenOnce):
            road()
    assert quote.lines.get().quantity == 2


def test_what_the_office_approves_is_what_is_sent(world, rep, office):
    quote = draft(world, margin_pct=LOW)
    assert quote.needs_approval
    with pytest.raises(IllegalMove, match="before the office approves it"):
        actions.send_quote(quote=quote, acting_user=rep)
    actions.submit_quote(quote=quote, acting_user=rep, why="A yard next door.")
    agreed = quote.total
    StockCost.objects.create(
        stock=BaseStock.objects.get(code="UAN"),
        effective_from=today(),
        amount=Decimal("2.5000"),
        unit="lb",
    )
    with pytest.raises(NotAllowed):
        actions.approve_quote(quote=quote, acting_user=rep)
    actions.approve_quote(quote=quote, acting_user=office, why="good customer")
    assert (quote.status, quote.total) == (S.SENT, agreed)
    assert quote.valid_until == today() + timedelta(days=30)


def test_a_price_that_moved_since_it_was_shown_is_not_sent_unread(world, rep):
    quote = draft(world)
    seen = quote.total
    StockCost.objects.create(
        stock=BaseStock.objects.get(code="UAN"),
        effective_from=today(),
        amount=Decimal("0.1900"),
        unit="lb",
    )
    with pytest.raises(ChangedMeanwhile, match="Look again"):
        actions.send_quote(quote=quote, acting_user=rep, seen_total=seen)
    quote.refresh_from_db()
    assert quote.status == S.DRAFT
    assert quote.total > seen
    actions.send_quote(quote=quote, acting_user=rep, seen_total=quote.total)
    assert quote.status == S.SENT


def test_repricing_a_draft_says_by_how_much_it_rose(world, rep):
    quote = draft(world)
    before = quote.total
    assert actions.reprice_draft(quote=quote, acting_user=rep) == 0
    StockCost.objects.create(
        stock=BaseStock.objects.get(code="UAN"),
        effective_from=today(),
        amount=Decimal("0.1900"),
        unit="lb",
    )
    rise = actions.reprice_draft(quote=quote, acting_user=rep)
    assert rise > 0
    assert Quote.objects.get(pk=quote.pk).total == before + rise


def test_a_draft_takes_other_lines_and_keeps_its_number(world, rep, company):
    quote = draft(world)
    number, price = quote.number, quote.total
    other = make_revision(company, rep, {"UAN": 75.0, "WATER": 25.0}, name="Strong")
    actions.change_draft(
        quote=quote,
        acting_user=rep,
        company=company,
        ship_to=world["ship_to"],
        lines=[line(world), line(world, revision=other, n_rate_lb_per_1000sqft=0.5)],
        validity_days=10,
        notes="By the gate.",
    )
    quote.refresh_from_db()
    assert (quote.number, quote.notes, quote.validity_days) == (number, "By the gate.", 10)
    assert [row.position for row in quote.lines.all()] == [1, 2]
    assert quote.total > price
    assert quote.total == sum(row.line_total + row.deposit for row in quote.lines.all())


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"validity_days": 0}, "valid for 1 to 365 days"),
        ({"lines": []}, "at least one line"),
    ],
)
def test_an_incomplete_draft_is_refused(world, rep, changes, sentence):
    asked = {
        "company": world["company"],
        "ship_to": world["ship_to"],
        "lines": [line(world)],
        "validity_days": 30,
    }
    with pytest.raises(BadInput, match=sentence):
        actions.draft_quote(acting_user=rep, **{**asked, **changes})
    assert not Quote.objects.exists()


def test_one_customer_is_never_quoted_to_another(world, rep, stranger):
    asked = {"acting_user": rep, "company": stranger.company, "validity_days": 30}
    elsewhere = ShipToFactory(company=stranger.company)
    with pytest.raises(BadInput, match="belongs to another customer"):
        actions.draft_quote(**asked, ship_to=elsewhere, lines=[line(world)])
    with pytest.raises(BadInput, match="not an address of"):
        actions.draft_quote(**asked, ship_to=world["ship_to"], lines=[line(world)])


def test_only_reps_and_the_office_write_quotes(world, customer, plant_worker, formulator):
    for person in (customer, plant_worker, formulator):
        with pytest.raises(NotAllowed):
            actions.draft_quote(
                acting_user=person,
                company=world["company"],
                ship_to=world["ship_to"],
                lines=[line(world)],
                validity_days=30,
            )


def test_only_the_customer_of_a_quote_answers_it(world, office, stranger, plant_worker):
    quote = in_state(world, S.SENT, office)
    for person in (stranger, plant_worker):
        with pytest.raises(NotAllowed):
            actions.accept_quote(quote=quote, acting_user=person, name="Sam")


def test_the_night_command_closes_what_ran_out_and_may_run_twice(world, office, capsys):
    quote = in_state(world, S.SENT, office)
    call_command("expire_quotes")
    assert Quote.objects.get(pk=quote.pk).status == S.SENT
    Quote.objects.filter(pk=quote.pk).update(valid_until=today() - timedelta(days=1))
    call_command("expire_quotes")
    call_command("expire_quotes")
    quote.refresh_from_db()
    assert quote.status == S.EXPIRED
    assert [event.to_status for event in quote.events.all()].count("expired") == 1
    assert quote.number in capsys.readouterr().out


def test_a_quote_past_its_last_day_is_refused_before_the_night_closes_it(world, office):
    quote = in_state(world, S.SENT, office)
    Quote.objects.filter(pk=quote.pk).update(valid_until=today() - timedelta(days=1))
    quote.refresh_from_db()
    with pytest.raises(IllegalMove, match="was valid until"):
        actions.accept_quote(quote=quote, acting_user=None, name="Casey")


def test_bulk_is_quoted_and_sent(world, rep):
    bulk = Package.objects.create(
        code="bulk", name="bulk", plural_name="bulk", kind=Package.Kind.BULK, fill_gal=0
    )
    bulk.refresh_from_db()
    quote = draft(world, package=bulk, quantity=1500)
    actions.send_quote(quote=quote, acting_user=rep)
    assert quote.lines.get().price_per_package is None
    assert Paper.objects.get(quote=quote).snapshot["lines"][0]["volume_gal"] == 1500


def mails(act, mailoutbox):
    deliver_overdue.call()
    mailoutbox.clear()
    act()
    deliver_overdue.call()
    return [(mail.subject, sorted(mail.to)) for mail in mailoutbox]


def test_every_move_tells_those_it_concerns(world, rep, office, customer, mailoutbox):
    def sent_by(act):
        return mails(act, mailoutbox)

    quote = draft(world, margin_pct=LOW)
    assert sent_by(
        lambda: actions.submit_quote(quote=quote, acting_user=rep, why="A yard next door.")
    ) == [(f"Quote {quote.number} waits for your approval", [office.email])]
    back = {"quote": quote, "acting_user": office, "why": "Not that low."}
    assert sent_by(lambda: actions.send_back(**back)) == [
        (f"Quote {quote.number} comes back to you", [rep.email])
    ]
    assert "Not that low." in mailoutbox[0].body
    actions.submit_quote(quote=quote, acting_user=rep, why="A yard next door.")
    assert sent_by(lambda: actions.approve_quote(quote=quote, acting_user=office)) == [
        (f"Quote {quote.number} for you to read", [customer.email]),
        (f"Quote {quote.number} is approved and sent", [rep.email]),
    ]
    body = mailoutbox[0].body
    assert "/q/" in body
    assert not {"margin", "cost", "floor"} & set(body.lower().split())
    accepted = sent_by(lambda: actions.accept_quote(quote=quote, acting_user=None, name="Casey"))
    assert (f"Quote {quote.number} is accepted", [rep.email]) in accepted
    other = draft(world)
    actions.send_quote(quote=other, acting_user=rep)
    withdrawn = {"quote": other, "acting_user": rep, "why": "typing error"}
    assert sent_by(lambda: actions.withdraw_quote(**withdrawn)) == [
        (f"Quote {other.number} is withdrawn", [customer.email])
    ]
    assert "typing error" not in mailoutbox[0].body


def test_nobody_is_mailed_when_the_sending_fails(world, rep, monkeypatch):
    quote = draft(world)

    def broken(**kwargs):
        raise RuntimeError("no ink")

    monkeypatch.setattr("orders.quoting.actions.sending.issue_quote_paper", broken)
    with pytest.raises(RuntimeError):
        actions.send_quote(quote=quote, acting_user=rep)
    assert Quote.objects.get(pk=quote.pk).status == S.DRAFT
    assert not Mail.objects.exists()
