"""The change log: what the forms saved, in words; and what may be taken back."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.db.models import QuerySet
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from blendshop.errors import ChangedMeanwhile, NotAllowed
from blendshop.saving import save_valid
from formulas.engine.mark import Mark
from formulas.models import AnalysisFigure, BaseStock, CompatibilityRule, StockCost, Trait
from formulas.stocks.actions.stocks import traits_kept_as_one_change
from orders.changes.actions import take_back
from orders.changes.histories import AS_IT_STOOD
from orders.changes.lines import FieldChange, Kind
from orders.changes.log import find_line, read_log, sources
from orders.changes.source import Wanted
from orders.inventory.actions.lots import use_lot
from orders.models import Batch, CustomerTerms, FreightZone, PricePolicy, PriceTier
from orders.models.order import OrderEvent
from orders.price_desk.actions import save_prices
from tests.factories import ShipToFactory


def lines(user, **wanted):
    return read_log(user, Wanted(**wanted)).lines


def newest(user, **wanted):
    return lines(user, **wanted)[0]


@pytest.fixture
def zone(shop, company, office):
    zone = ShipToFactory(company=company).zone
    zone.per_load = Decimal("80.00")
    return save_valid(zone, office)


def changed(zone, by, **columns):
    for name, value in columns.items():
        setattr(zone, name, Decimal(value))
    return save_valid(zone, by)


def test_terms_set_on_a_customers_page_stand_in_the_log_as_they_were_typed(
    office, company, shop, signed_in
):
    old, new = PriceTier.objects.get(), PriceTier(name="Season", margin_pct=20, floor_pct=10)
    new.save()
    CustomerTerms.objects.create(company=company, tier=old, payment_terms="net 30 days")
    page = f"/customers/{company.pk}/terms/"
    signed_in(office).post(page, {"tier": new.pk, "payment_terms": "net 45 days"})
    line = newest(office, kind=Kind.CUSTOMERS, record=company.name)
    assert (line.who, line.record) == (str(office), f"Terms of {company}")
    assert line.fields == (
        FieldChange("Price tier", old.name, "Season"),
        FieldChange("Payment terms", "net 30 days", "net 45 days"),
    )
    html = signed_in(office).get("/changes/", {"kind": "customers"}).content.decode()
    assert "net 30 days" in html
    assert "net 45 days" in html


def test_a_cost_stands_with_its_unit_and_what_was_in_force_on_its_day(formulator, shop, signed_in):
    stock = BaseStock.objects.get(code="UAN")
    typed = {"amount": "412.5", "unit": "ton", "effective_from": "2026-03-01", "note": "letter"}
    signed_in(formulator).post(f"/stocks/{stock.code}/cost/", typed)
    line = newest(formulator, kind=Kind.COSTS)
    unit = StockCost.objects.latest("pk").get_unit_display()
    assert line.fields == (FieldChange("Cost", "$0.18 per lb", f"$412.50 {unit}"),)
    assert (line.who, line.why, line.verb) == (str(formulator), "letter", "from March 1, 2026")


def test_a_policy_says_who_entered_it_and_which_figures_it_changed(office, shop):
    before = PricePolicy.objects.get()
    kept = {
        name: getattr(before, name) for name in ("shrink_pct", "batch_fee", "lab_fee_per_batch")
    }
    fee = {"blend_fee_per_gal": Decimal("0.1250"), "effective_from": date(2026, 4, 1)}
    policy = PricePolicy(**kept, **fee)
    save_prices(acting_user=office, policy=policy, rows=())
    line = newest(office, kind=Kind.PRICES)
    assert line.who == str(office)
    assert [(field.label, field.new) for field in line.fields] == [
        ("Blending fee", "$0.1250 per gal")
    ]


def test_roles_are_for_the_office_alone(office, formulator, plant_worker, shop, signed_in):
    asked = {"name": "Pat", "email": plant_worker.email, "roles": ["rep"]}
    signed_in(office).post("/start/people/", asked)
    line = newest(office, kind=Kind.PEOPLE)
    assert line.fields == (FieldChange("Roles changed", "plant", "plant, rep"),)
    assert lines(formulator, kind=Kind.PEOPLE) == ()
    assert all(line.kind != Kind.PEOPLE for line in lines(formulator))
    assert find_line(formulator, "SecurityEvent", line.pk) is None


def test_what_was_taken_back_is_a_change_of_its_own(office, zone):
    changed(zone, office, per_load="95.00")
    line = newest(office, kind=Kind.FREIGHT)
    assert line.fields == (FieldChange("A load", "$80.00", "$95.00"),)
    count = FreightZone.history.count()
    take_back(acting_user=office, line=line)
    assert FreightZone.objects.get(pk=zone.pk).per_load == Decimal("80.00")
    assert FreightZone.history.count() == count + 1
    assert newest(office, kind=Kind.FREIGHT).fields == (FieldChange("A load", "$95.00", "$80.00"),)


def test_nothing_is_taken_back_once_the_same_was_changed_again(office, zone, signed_in):
    changed(zone, office, per_load="95.00")
    line = newest(office, kind=Kind.FREIGHT)
    changed(zone, office, per_load="99.00")
    changed(zone, office, per_load="95.00")  # the same figure, but decided anew
    with pytest.raises(ChangedMeanwhile, match="changed again since"):
        take_back(acting_user=office, line=line)
    page = signed_in(office).get(f"/changes/{line.source}/{line.pk}/").content.decode()
    assert "changed again since" in page
    assert "Take it back" not in page


def test_what_was_changed_beside_it_since_stays(office, zone):
    changed(zone, office, per_load="95.00")
    line = newest(office, kind=Kind.FREIGHT)
    changed(zone, office, minimum="40.00")
    take_back(acting_user=office, line=line)
    zone.refresh_from_db()
    assert (zone.per_load, zone.minimum) == (Decimal("80.00"), Decimal("40.00"))


def test_who_may_not_set_it_may_not_take_it_back(office, formulator, zone, signed_in):
    changed(zone, office, per_load="95.00")
    line = newest(formulator, kind=Kind.FREIGHT)
    assert not line.can_be_taken_back
    assert signed_in(formulator).post(f"/changes/{line.source}/{line.pk}/").status_code == 403
    with pytest.raises(NotAllowed):
        take_back(acting_user=formulator, line=line)
    assert FreightZone.objects.get(pk=zone.pk).per_load == Decimal("95.00")


@pytest.mark.parametrize("from_day", [date(2026, 3, 1), date(2019, 1, 1)])
def test_a_cost_taken_back_leaves_every_day_as_it_was(formulator, shop, from_day):
    stock = BaseStock.objects.get(code="UAN")
    days = [date(2020, 6, 1) + timedelta(days=90 * step) for step in range(30)]

    def costs():
        fresh = BaseStock.objects.prefetch_related("costs").get(pk=stock.pk)
        return [(cost.amount, cost.unit) for cost in map(fresh.cost_on, days) if cost]

    StockCost.objects.create(stock=stock, amount=1, unit="lb", effective_from=date(2018, 1, 1))
    before = costs()
    StockCost.objects.create(stock=stock, amount=2, unit="lb", effective_from=from_day)
    line = newest(formulator, kind=Kind.COSTS)
    take_back(acting_user=formulator, line=line)
    assert costs() == before
    with pytest.raises(ChangedMeanwhile, match="newer cost"):
        take_back(acting_user=formulator, line=line)


def test_a_policy_is_taken_back_from_its_day_on(office, shop):
    first = PricePolicy.objects.get()
    PricePolicy(
        effective_from=date(2026, 5, 1), shrink_pct=5, batch_fee=1, blend_fee_per_gal=1,
        lab_fee_per_batch=1,
    ).save()  # fmt: skip
    take_back(acting_user=office, line=newest(office, kind=Kind.PRICES))
    stands = PricePolicy.objects.first()
    assert (stands.effective_from, stands.batch_fee) == (date(2026, 5, 1), first.batch_fee)


def test_stocks_rules_and_tanks_are_taken_back_while_nothing_was_made_with_the_change(
    office, formulator, batch, lots, plant_worker, signed_in
):
    stock, tank = BaseStock.objects.get(code="UAN"), batch.tank
    one, other = (Trait.objects.create(code=f"test_{name}", name=name) for name in "ab")
    rule = CompatibilityRule.objects.create(
        trait_a=one,
        trait_b=other,
        effect="fine",
        reason="Invented.",
        source="Invented for a test",
        mark=Mark.COMMON_PRACTICE.value,
    )
    figure = stock.analysis_figures.order_by("pk")[0]
    edits = (
        (formulator, stock, {"max_pct": 61.0}),
        (formulator, stock, {"density_lb_per_gal": stock.density_lb_per_gal + 0.1}),
        (formulator, figure, {"pct": figure.pct + 0.5}),
        (formulator, rule, {"reason": "Another reason."}),
        (office, tank, {"loads_a_day": tank.loads_a_day + 1}),
        (office, tank, {"capacity_gal": tank.capacity_gal + 100}),
    )

    for row in (stock, figure, rule, tank):
        save_valid(row, office)  # the fixture's rows keep no history: what stands is known now

    def edited(by, row, columns):
        row.refresh_from_db()
        was = {name: getattr(row, name) for name in columns}
        for name, value in columns.items():
            setattr(row, name, value)
        save_valid(row, by)
        return was, find_line(by, type(row).__name__, row.history.latest().pk)

    for by, row, columns in edits:
        was, line = edited(by, row, columns)
        assert (line.can_be_taken_back, line.why_not) == (True, "")
        (reader,) = {office, formulator} - {by}
        seen = find_line(reader, line.source, line.pk)
        assert not seen.can_be_taken_back
        assert "takes it back" in seen.why_not
        take_back(acting_user=by, line=line)
        row.refresh_from_db()
        assert {name: getattr(row, name) for name in columns} == was
        kept = row.history.latest()
        assert (kept.history_user, kept.history_change_reason[:10]) == (by, "Taken back")
        with pytest.raises(ChangedMeanwhile, match="changed again since"):
            take_back(acting_user=by, line=line)

    lines_of = [edited(*each)[1] for each in edits]
    use_lot(
        lot=lots["UAN"], mass_lb=Decimal(10), batch=batch, acting_user=plant_worker, key="since"
    )
    Batch.objects.filter(pk=batch.pk).update(created_at=timezone.now())
    safe = []
    for (by, _row, columns), line in zip(edits, lines_of, strict=True):
        now = find_line(by, line.source, line.pk)
        if now.can_be_taken_back:
            safe += columns
            continue
        page = signed_in(by).get("/changes/").content.decode()
        assert now.why_not in page  # it stands in place of the button
        with pytest.raises(ChangedMeanwhile, match=r"charged with it since|planned into the tank"):
            take_back(acting_user=by, line=line)
    assert safe == ["max_pct", "reason", "loads_a_day"]


def test_traits_of_a_stock_are_taken_back_with_what_was_changed_beside_them(
    office, formulator, batch, lots, plant_worker
):
    """One trait for another is one change, on the form and in a table, and comes back as one."""
    stock = BaseStock.objects.get(code="UAN")
    one, other, third = (Trait.objects.create(code=f"test_{name}", name=name) for name in "abc")
    stock.traits.set([one])
    before = stock.max_pct

    def set_to(*traits, **columns):
        row = BaseStock.objects.get(pk=stock.pk)
        for name, value in columns.items():
            setattr(row, name, value)
        with traits_kept_as_one_change(row):
            row.traits.set(traits)
        save_valid(row, formulator)
        return find_line(formulator, "BaseStock", row.history.latest().pk)

    def traits():
        return set(stock.traits.values_list("name", flat=True))

    line = set_to(other, max_pct=61.0)
    assert [(each.label, each.old, each.new) for each in line.fields][-1] == ("Traits", "a", "b")
    assert not find_line(office, line.source, line.pk).can_be_taken_back
    take_back(acting_user=formulator, line=line)
    stock.refresh_from_db()
    assert (traits(), stock.max_pct) == ({"a"}, before)
    kept = stock.history.latest()
    assert (kept.history_user, kept.history_change_reason[:10]) == (formulator, "Taken back")
    with pytest.raises(ChangedMeanwhile, match="changed again since"):
        take_back(acting_user=formulator, line=line)

    line = set_to(other)
    again = set_to(other, third)
    with pytest.raises(ChangedMeanwhile, match="changed again since"):
        take_back(acting_user=formulator, line=line)
    take_back(acting_user=formulator, line=again)
    assert traits() == {"b"}

    line = set_to(third)
    other.delete()
    with pytest.raises(ChangedMeanwhile, match="removed since"):
        take_back(acting_user=formulator, line=line)

    line = set_to(one)
    use_lot(
        lot=lots["UAN"], mass_lb=Decimal(10), batch=batch, acting_user=plant_worker, key="since"
    )
    with pytest.raises(ChangedMeanwhile, match="charged with it since"):
        take_back(acting_user=formulator, line=line)
    assert traits() == {"a"}


def test_a_page_of_catalogue_lines_costs_no_query_more(formulator, shop):
    def edit(count):
        for figure in AnalysisFigure.objects.order_by("pk")[:count]:
            figure.pct += 0.1
            save_valid(figure, formulator)

    def asked():
        with CaptureQueriesContext(connection) as queries:
            page = read_log(formulator, Wanted(kind=Kind.STOCKS), most=20)
        return len(page.lines), len(queries)

    edit(2)
    edit(2)  # the fixture's rows keep no history: only now something stood before
    asked()  # who asks is looked up once
    few, of_few = asked()
    edit(6)
    many, of_many = asked()
    assert few < many
    assert of_few == of_many


def test_first_entries_say_why_they_stay(office, zone, signed_in):
    added = [line for line in lines(office, kind=Kind.FREIGHT) if line.verb == "added"]
    page = signed_in(office).get(f"/changes/{added[0].source}/{added[0].pk}/").content.decode()
    assert "not that something was added" in page


def test_rows_written_when_the_log_began_are_no_changes(office, zone):
    count = len(lines(office))
    kept = FreightZone.history.latest()
    kept.pk, kept.history_change_reason = None, AS_IT_STOOD
    kept.save(force_insert=True)
    assert len(lines(office)) == count


def test_pages_follow_each_other_without_a_gap_also_at_one_instant(office, order):
    at = timezone.now() - timedelta(days=1)
    OrderEvent.objects.bulk_create(
        OrderEvent(order=order, who="Pat", to_status="open", why=str(number))
        for number in range(12)
    )
    QuerySet(OrderEvent).update(at=at)  # events themselves are never edited
    whole = [(line.source, line.pk) for line in read_log(office, Wanted(), most=500).lines]
    walked, after = [], ""
    while True:
        page = read_log(office, Wanted(), after, most=5)
        walked += [(line.source, line.pk) for line in page.lines]
        if not page.older:
            break
        after = page.older
    assert walked == whole
    assert len(whole) == len(set(whole)) > 12


def test_a_long_log_costs_no_query_more(office, order):
    def asked():
        with CaptureQueriesContext(connection) as queries:
            page = read_log(office, Wanted(kind=Kind.ORDERS), most=50)
        return len(page.lines), len(queries)

    asked()  # who asks is looked up once
    few, of_few = asked()
    OrderEvent.objects.bulk_create(
        OrderEvent(order=order, who="Pat", to_status="open") for _ in range(300)
    )
    many, of_many = asked()
    assert few < many == 50
    assert of_few == of_many <= 6


def test_lines_are_narrowed_by_person_day_and_record(office, rep, zone, order):
    changed(zone, office, per_load="95.00")
    assert {line.who for line in lines(office, person=office)} == {str(office)}
    tomorrow = timezone.now() + timedelta(days=1)
    assert lines(office, since=tomorrow) == ()
    assert lines(office, until=timezone.now() - timedelta(days=1)) == ()
    of_order = lines(office, record=order.number.lower())
    assert {line.record for line in of_order} == {order.number}


def test_every_source_reads_what_it_offers(office, batch, lots):
    """No table's lines are promised and then not written, whatever it is."""
    for rank, source in enumerate(sources()):
        keys = [place.pk for place in source.places(Wanted(), rank, None, 5)]
        assert sorted(line.pk for line in source.read(keys, office)) == sorted(keys), source.key


def test_what_somebody_types_behind_the_address_breaks_nothing(office, shop, signed_in):
    client = signed_in(office)
    for after in ("x", "2026-01-01T00:00:00~1~1", "~~", f"2026-01-01T00:00:00+00:00~1~{9**40}"):
        assert client.get("/changes/", {"after": after}).status_code == 200
    assert client.get("/changes/FreightZone/999999/").status_code == 404
    assert client.get("/changes/User/1/").status_code == 404
