"""Prices and terms: what the preview says is what a quote says once it is saved, to the cent."""

import re
from decimal import Decimal
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from blendshop.accounts.models import User
from blendshop.errors import BadInput, NotAllowed
from formulas.engine.work.effort import TooLate
from orders.models import (
    CustomerTerms,
    FreightZone,
    Package,
    PricePolicy,
    PriceTier,
    QuantityBreak,
    ShipTo,
    StateFee,
)
from orders.price_desk.actions import save_prices
from orders.price_desk.csv_table import read_prices
from orders.price_desk.desk import PriceDesk
from orders.price_desk.preview import QUANTITIES, preview_of
from orders.quoting import priced_loads
from orders.quoting.actions import quotes as actions
from orders.quoting.draft_prices import DraftLine

pytestmark = pytest.mark.django_db

PAGE = "/prices/"


@pytest.fixture
def shown(world: dict[str, Any]) -> dict[str, Any]:
    """The page over a state fee, a zone that is driven to and a tier besides the usual one."""
    state = world["ship_to"].state
    StateFee.objects.update_or_create(
        state=state,
        defaults={"fee_per_ton": Decimal("0.75"), "citation": "demo statute", "mark": "demo"},
    )
    FreightZone.objects.filter(pk=world["ship_to"].zone_id).update(
        pick_up=False, per_load=120, per_package=15, per_gal=0, minimum=150
    )
    sent = PriceDesk(timezone.localdate()).as_sent()
    zone = world["ship_to"].zone.name
    for place in range(int(sent["zones-TOTAL_FORMS"])):
        if sent.get(f"zones-{place}-name") == zone:
            sent["preview-zone"] = str(place)
    for place in range(int(sent["fees-TOTAL_FORMS"])):
        if sent.get(f"fees-{place}-state") == state:
            sent["preview-state"] = str(place)
    return sent | {"preview-blend1": str(world["revision"].pk)}


#: Every table at once: (field, what is typed).
OTHER_PRICES = {
    "policy-shrink_pct": "3.25",
    "policy-batch_fee": "91.37",
    "policy-blend_fee_per_gal": "0.1234",
    "policy-lab_fee_per_batch": "44.44",
    "tiers-0-margin_pct": "37.5",
    "breaks-0-above_gal": "500",
    "breaks-0-margin_points_off": "2.25",
    "zones-0-per_package": "21.11",
    "zones-0-minimum": "333.33",
    "fees-0-fee_per_ton": "1.75",
}


def quoted(world: dict[str, Any], quantity: int) -> Any:
    """The price of a line of a new draft of a customer without a tier of its own."""
    CustomerTerms.objects.all().delete()
    draft = actions.draft_quote(
        acting_user=world["rep"],
        company=world["company"],
        ship_to=ShipTo.objects.get(pk=world["ship_to"].pk),  # with its zone of now
        lines=[
            DraftLine(revision=world["revision"], package=Package.objects.get(), quantity=quantity)
        ],
        validity_days=30,
        notes="",
    )
    return draft.lines.get().price_breakdown


def test_the_preview_is_what_a_quote_then_says_to_the_cent(
    world: dict[str, Any], shown: dict[str, Any], office: User, signed_in: Any
) -> None:
    today = timezone.localdate()
    before = {quantity: quoted(world, quantity).total for quantity in QUANTITIES}
    rows = [list(model.objects.values()) for model in (PricePolicy, PriceTier, FreightZone)]
    sent = shown | OTHER_PRICES
    preview = preview_of(PriceDesk(today, sent), today)
    assert preview.waits_for == ()
    prices = preview.blends[0].prices
    assert {price.quantity: price.old.total for price in prices} == before
    assert rows == [list(model.objects.values()) for model in (PricePolicy, PriceTier, FreightZone)]
    client = signed_in(office)
    assert client.post(PAGE, sent).status_code == 302
    for price in prices:
        now = quoted(world, price.quantity)
        assert (now.total, now.price_per_gal) == (price.new.total, price.new.price_per_gal)
        assert price.new.total != price.old.total
    chosen = {key: value for key, value in shown.items() if key.startswith("preview-")}
    sent = PriceDesk(today).as_sent() | chosen
    page = client.post(PAGE, sent | {"do": "preview"}, HTTP_HX_REQUEST="true")
    for price in prices:
        assert f"<strong>${price.new.total:,.2f}</strong>" in page.content.decode()


def test_an_untouched_page_previews_the_same_twice_and_saves_nothing(
    shown: dict[str, Any], office: User, signed_in: Any
) -> None:
    today = timezone.localdate()
    prices = preview_of(PriceDesk(today, shown), today).blends[0].prices
    assert [price.old for price in prices] == [price.new for price in prices]
    answer = signed_in(office).post(PAGE, shown, follow=True)
    assert "Nothing was changed." in answer.content.decode()
    assert PricePolicy.objects.count() == 1


def test_a_load_that_is_not_planned_in_time_says_so_in_its_cell_and_is_asked_for_again(
    shown: dict[str, Any], office: User, signed_in: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    planned, asked = priced_loads._answer.__wrapped__, []

    def late_after_two(question: Any) -> Any:
        asked.append(question)
        if len(asked) == 3:
            raise TooLate
        return planned(question)

    monkeypatch.setattr(priced_loads, "_answer", late_after_two)
    sent = shown | {"do": "preview"}
    page = signed_in(office).post(PAGE, sent, HTTP_HX_REQUEST="true")
    prices = page.context["preview"].blends[0].prices
    assert [price.new is not None for price in prices] == [True, True, False]
    assert len(asked) == len(QUANTITIES)  # each load once, for old and new
    html = page.content.decode()
    assert "No price yet: the load of " in html
    assert "Go on with the others" in html
    assert "Wish for fewer stocks" not in html
    page = signed_in(office).post(PAGE, sent, HTTP_HX_REQUEST="true")
    assert not page.context["preview"].is_late
    assert "Go on with the others" not in page.content.decode()


def test_another_tier_becomes_the_usual_one_and_there_is_always_one(
    shown: dict[str, Any], office: User, signed_in: Any
) -> None:
    client = signed_in(office)
    new = shown | {"tiers-1-name": "Large", "tiers-1-margin_pct": "22", "tiers-1-floor_pct": "15"}
    twice = client.post(PAGE, new | {"tiers-1-is_default": "on"})
    assert (twice.status_code, PriceTier.objects.count()) == (400, 1)
    assert "Exactly one tier" in twice.content.decode()
    moved = new | {"tiers-1-is_default": "on"}
    del moved["tiers-0-is_default"]
    assert client.post(PAGE, moved).status_code == 302
    assert PriceTier.objects.get(is_default=True).name == "Large"


def test_a_break_is_taken_out_and_a_fee_of_the_office_says_so(
    shown: dict[str, Any], office: User, signed_in: Any
) -> None:
    client = signed_in(office)
    client.post(PAGE, shown | {"breaks-0-above_gal": "900", "breaks-0-margin_points_off": "1"})
    sent = shown | PriceDesk(timezone.localdate()).as_sent()
    place = int(sent["fees-TOTAL_FORMS"]) - 1
    new = {"state": "zz", "fee_per_ton": "2", "citation": "demo", "active": "on"}
    fee = {f"fees-{place}-{name}": value for name, value in new.items()}
    assert client.post(PAGE, sent | fee | {"breaks-0-DELETE": "on"}).status_code == 302
    assert not QuantityBreak.objects.exists()
    assert StateFee.objects.get(state="ZZ").mark == "set by the office"


def test_what_cannot_be_read_yet_is_said_and_a_floor_above_its_margin_saves_nothing(
    shown: dict[str, Any], office: User, signed_in: Any
) -> None:
    client = signed_in(office)
    wrong = shown | {"tiers-0-floor_pct": "95", "policy-batch_fee": "much"}
    page = client.post(PAGE, wrong | {"do": "preview"}, HTTP_HX_REQUEST="true").content.decode()
    assert "There is no preview yet" in page
    assert re.search("Fee of a batch, \\$: Enter a number", page)
    refused = client.post(PAGE, wrong)
    assert refused.status_code == 400
    assert "Nothing was saved" in refused.content.decode()
    assert PricePolicy.objects.count() == 1


def test_only_the_office_sets_prices(
    rep: User, formulator: User, office: User, world: dict[str, Any]
) -> None:
    for person in (rep, formulator):
        with pytest.raises(NotAllowed):
            save_prices(acting_user=person, policy=None, rows=[])
    tier = PriceTier.objects.get(is_default=True)
    tier.floor_pct = tier.margin_pct + 1
    with pytest.raises(BadInput):
        save_prices(acting_user=office, policy=None, rows=[tier])


def test_the_page_asks_no_more_of_the_database_for_more_rows(
    shown: dict[str, Any], office: User, signed_in: Any, django_assert_max_num_queries: Any
) -> None:
    for number in range(30):
        FreightZone.objects.create(
            name=f"Zone {number}", per_load=1, per_package=1, per_gal=0, minimum=1
        )
    client = signed_in(office)
    with django_assert_max_num_queries(40):
        assert client.get(PAGE).status_code == 200


def csv_file(text: str) -> SimpleUploadedFile:
    return SimpleUploadedFile("prices.csv", text.encode("utf-16"), content_type="text/csv")


def test_prices_come_back_from_a_file_and_fill_the_page_which_saves_them(
    shown: dict[str, Any], world: dict[str, Any], office: User, signed_in: Any
) -> None:
    today = timezone.localdate()
    client = signed_in(office)
    exported = client.get("/prices/table.csv").content.decode("utf-8-sig")
    desk, errors = read_prices(exported, today)
    assert errors == []
    assert desk.typed().is_empty
    table = (
        "Table\tRow\tField\tValue\n"
        "policy\t\tbatch_fee\t$1,091.37\n"
        "policy\t\teffective_from\t12/31/2099\n"
        "tier\tLarge\tmargin_pct\t22\n"
        "tier\tlarge\tfloor_pct\t15\n"
        "zone\tFar\tper_load\t400\n"
        "break\t900\tmargin_points_off\t1.5\n"
    )
    page = client.post("/prices/upload/", {"table": csv_file(table)})
    assert page.status_code == 200
    assert PriceTier.objects.count() == 1
    desk, errors = read_prices(table, today)
    assert errors == []
    sent = dict(desk.policy.data)
    assert client.post(PAGE, sent).status_code == 302
    policy = PricePolicy.objects.order_by("-pk")[0]
    assert (policy.batch_fee, policy.effective_from.year) == (Decimal("1091.37"), 2099)
    large = PriceTier.objects.get(name="Large")
    assert (large.margin_pct, large.floor_pct, large.is_default) == (22, 15, False)
    assert FreightZone.objects.get(name="Far").per_load == 400
    assert QuantityBreak.objects.get().above_gal == 900


def test_every_wrong_line_of_a_price_table_is_named(
    shown: dict[str, Any], office: User, signed_in: Any
) -> None:
    lines = {
        "policy,,batch_fee,much": "not an amount",
        "policy,,effective_from,31/12/2026": "not a date",
        "tier,,margin_pct,3": "needs its name",
        "tax,MD,rate,3": "no table of prices",
        "tier,Large,colour,3": "not a known field",
        "zone,Far,pick_up,maybe": "neither yes nor no",
        "break,-5,margin_points_off,1": "greater than or equal",
    }
    text = "table,row,field,value\n" + "\n".join(lines) + "\n"
    _desk, errors = read_prices(text, timezone.localdate())
    for number, words in enumerate(lines.values(), start=2):
        assert [error for error in errors if error.line == number and words in error.message], (
            number,
            errors,
        )
    answer = signed_in(office).post("/prices/upload/", {"table": csv_file(text)})
    assert answer.status_code == 400
    assert "Line 4" in answer.content.decode()
