"""The catalogue as a table: out, in, previewed line by line, all or nothing, hostile or not."""

import csv
import io
from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from blendshop.accounts.models import User
from blendshop.csv_upload import MOST_BYTES, decode
from blendshop.errors import BadInput, ChangedMeanwhile, NotAllowed
from formulas.models import AnalysisFigure, BaseStock, StockCost
from formulas.stocks.actions.upload import apply_upload
from formulas.stocks.table.export import export_catalogue
from formulas.stocks.table.plan import Plan, plan_upload
from tests.factories import TraitFactory
from tests.formulas.stocks.sure import surely
from tests.shipped_stocks import put_in_demo_stocks

pytestmark = pytest.mark.usefixtures("catalogue")

TODAY = date(2026, 6, 1)
HEAD = "code,field,value,unit,source,mark,effective_from\n"
NEW_STOCK = (
    HEAD
    + "SUGAR,name,Sugar solution,,,,\n"
    + "SUGAR,density_lb_per_gal,10.2,lb/gal,supplier's sheet 7,supplier,\n"
    + "SUGAR,analysis.K2O,2.5,%,supplier's sheet 7,supplier,\n"
    + "SUGAR,traits,nitrate,,,,\n"
    + "SUGAR,cost,0.2500,lb,list of June,,2026-06-01\n"
)


def apply(user: User, text: str) -> Plan:
    return surely(apply_upload, acting_user=user, text=text, seen_digest=plan_upload(text).digest)


def upload(client: Client, data: bytes | str) -> tuple[int, str]:
    content = data.encode() if isinstance(data, str) else data
    file = SimpleUploadedFile("table.csv", content, content_type="text/csv")
    response = client.post("/stocks/upload/", {"table": file})
    return response.status_code, response.content.decode()


def confirm(client: Client, digest: str) -> tuple[int, str]:
    response = client.post("/stocks/upload/", {"confirm": "yes", "digest": digest}, follow=True)
    return response.status_code, response.content.decode()


def everything() -> list[object]:
    """All that an upload could change."""
    return [
        list(BaseStock.objects.order_by("pk").values()),
        list(AnalysisFigure.objects.order_by("pk").values()),
        list(StockCost.objects.order_by("pk").values()),
        sorted(BaseStock.traits.through.objects.values_list("basestock_id", "trait_id")),
    ]


def test_the_exported_catalogue_uploaded_again_changes_nothing(formulator: User) -> None:
    put_in_demo_stocks(formulator, TODAY)
    before = everything()
    text = decode(("\ufeff" + export_catalogue(TODAY)).encode())
    plan = apply(formulator, text)
    assert plan.counts["new"] == plan.counts["changed"] == 0
    assert plan.counts["unchanged"] > 500
    assert everything() == before


def test_a_new_stock_comes_with_its_figures_sources_traits_and_cost(formulator: User) -> None:
    plan = apply(formulator, NEW_STOCK)
    assert plan.counts == {"new": 5, "changed": 0, "unchanged": 0}
    stock = BaseStock.objects.for_engine().get(code="SUGAR")
    assert stock.analysis() == {"K2O": 2.5}
    assert (stock.density_source, stock.density_mark) == ("supplier's sheet 7", "supplier")
    figure = stock.analysis_figures.get()
    assert (figure.source, figure.mark) == ("supplier's sheet 7", "supplier")
    assert [trait.code for trait in stock.traits.all()] == ["nitrate"]
    cost = stock.cost_on(TODAY)
    assert cost is not None
    assert (cost.amount, cost.unit, cost.note) == (Decimal("0.2500"), "lb", "list of June")
    assert (cost.entered_by, stock.history.first().history_user) == (formulator, formulator)


def test_the_plan_shows_old_and_new_and_leaves_the_rest_alone(formulator: User) -> None:
    text = (
        HEAD
        + "UAN,density_lb_per_gal,11.08,lb/gal,lab of May,supplier,\n"
        + "UAN,name,urea ammonium nitrate solution,,,,\n"
        + "UAN,analysis.N.nitrate,0,,,,\n"
        + "KAC,cost,0.4100,lb,,,2026-06-01\n"
    )
    plan = plan_upload(text)
    assert not plan.errors
    shown = [(c.line, c.outcome.value, c.old, c.new) for c in plan.changes]
    assert shown == [
        (2, "changed", "11.06 (source: test data, invented)", "11.08 (source: lab of May)"),
        (3, "unchanged", "urea ammonium nitrate solution", "urea ammonium nitrate solution"),
        (4, "changed", "7.8", ""),
        (5, "changed", "0.39 per lb from 2020-01-01", "0.41 per lb from 2026-06-01"),
    ]
    apply(formulator, text)
    uan = BaseStock.objects.for_engine().get(code="UAN")
    assert uan.density_lb_per_gal == 11.08
    assert uan.analysis() == {"N.urea": 16.4, "N.ammoniacal": 7.8}
    kac = BaseStock.objects.get(code="KAC")
    assert [cost.amount for cost in kac.costs.all()] == [Decimal("0.41"), Decimal("0.39")]


def test_availability_days_and_traits_can_be_set(formulator: User) -> None:
    TraitFactory(code="calcium")
    text = (
        HEAD
        + "UAN,short,yes,,,,\nUAN,retired_on,2026-05-01,,,,\n"
        + "UAN,traits,nitrate calcium,,,,\nUAN,charging_rank,45,,,,\n"
    )
    apply(formulator, text)
    uan = BaseStock.objects.get(code="UAN")
    assert (uan.short, uan.retired_on, uan.charging_rank) == (True, date(2026, 5, 1), 45)
    assert {trait.code for trait in uan.traits.all()} == {"nitrate", "calcium"}
    apply(formulator, HEAD + "UAN,retired_on,,,,,\nUAN,short,no,,,,\n")
    uan.refresh_from_db()
    assert (uan.short, uan.retired_on) == (False, None)


def test_a_new_source_of_an_old_figure_is_a_change(formulator: User) -> None:
    text = HEAD + "KAC,analysis.K2O,24,%,another sheet,supplier,\n"
    assert plan_upload(text).counts["changed"] == 1
    apply(formulator, text)
    assert AnalysisFigure.objects.get(stock__code="KAC").source == "another sheet"
    assert plan_upload(text).counts["unchanged"] == 1


def test_semicolons_and_any_order_of_columns_are_understood() -> None:
    text = "value;field;code\nurea ammonium nitrate solution;name;UAN\n"
    assert plan_upload(text).counts == {"new": 0, "changed": 0, "unchanged": 1}


LINES: list[tuple[str, str, str, str]] = [
    # what is wrong, the line, the column named, words of the message
    ("unknown field", "UAN,colour,blue,,,,", "field", "not a known field"),
    ("no field", "UAN,,1,,,,", "field", "not a known field"),
    ("total N", "UAN,analysis.N,32,,s,demo,", "field", "nitrogen by form"),
    ("unknown content", "UAN,analysis.Xe,1,,s,demo,", "field", "not a key"),
    ("NaN", "UAN,density_lb_per_gal,NaN,,s,demo,", "value", "not a finite number"),
    ("infinity", "UAN,density_lb_per_gal,inf,,s,demo,", "value", "not a finite number"),
    ("words", "UAN,density_lb_per_gal,heavy,,s,demo,", "value", "not a finite number"),
    ("decimal comma", 'UAN,density_lb_per_gal,"11,1",,s,demo,', "value", "not a finite number"),
    ("no density", "UAN,density_lb_per_gal,,,s,demo,", "value", "needs a number"),
    ("density 0", "UAN,density_lb_per_gal,0,,s,demo,", "value", "density"),
    ("density of lead", "UAN,density_lb_per_gal,94.6,,s,demo,", "value", "density"),
    ("content above all", "UAN,analysis.K2O,101,,s,demo,", "value", "0 to 100"),
    ("negative content", "UAN,analysis.K2O,-1,,s,demo,", "value", "0 to 100"),
    ("contents above all", "UAN,analysis.K2O,90,,s,demo,", "field", "adds up to"),
    ("minimum above maximum", "UAN,min_pct,101,,,,", "value", "min pct"),
    ("no source", "UAN,density_lb_per_gal,11.1,,,,", "source", "needs its source"),
    ("no mark", "UAN,density_lb_per_gal,11.1,,sheet,,", "mark", "is not a mark"),
    ("unknown mark", "UAN,density_lb_per_gal,11.1,,sheet,sure,", "mark", "is not a mark"),
    ("empty name", "UAN,name,,,,,", "value", "must not be empty"),
    ("long name", f"UAN,name,{'x' * 121},,,,", "value", "120"),
    ("not yes or no", "UAN,short,maybe,,,,", "value", "neither yes nor no"),
    ("no day", "UAN,retired_on,last May,,,,", "value", "write it as 2026-01-31"),
    ("half a rank", "UAN,charging_rank,4.5,,,,", "value", "whole number"),
    ("unknown trait", "UAN,traits,nitrate magic,,,,", "value", "magic is not a known trait"),
    ("pH upside down", "UAN,ph_low,99,,s,demo,", "value", "ph low"),
    ("cost without unit", "UAN,cost,1,,,,2026-01-01", "unit", "per ton, lb, gal"),
    ("cost per tonne", "UAN,cost,1,tonne,,,2026-01-01", "unit", "per ton, lb, gal"),
    ("cost without day", "UAN,cost,1,lb,,,", "effective_from", "day it holds from"),
    ("cost on no day", "UAN,cost,1,lb,,,2026-02-30", "effective_from", "not a date"),
    ("negative cost", "UAN,cost,-1,lb,,,2026-01-01", "value", "not an amount"),
    ("NaN cost", "UAN,cost,NaN,lb,,,2026-01-01", "value", "not an amount"),
    ("endless cost", "UAN,cost,1e99,lb,,,2026-01-01", "value", "not an amount"),
    ("five decimals", "UAN,cost,1.00001,lb,,,2026-01-01", "value", "four decimals"),
    ("bad new code", "new stock!,name,New,,,,", "code", "cannot be a code"),
    ("day first", "UAN,cost,1,lb,,,30/11/2026", "effective_from", "not a date"),
    ("two-digit year", "UAN,cost,1,lb,,,11/30/26", "effective_from", "not a date"),
    ("no such day", "UAN,cost,1,lb,,,2/29/2026", "effective_from", "not a date"),
    ("decimal comma of a cost", 'UAN,cost,"0,195",lb,,,2026-01-01', "value", "not an amount"),
    ("doubtful comma", 'UAN,cost,"1,234",ton,,,2026-01-01', "value", "not an amount"),
    ("no code", ",name,New,,,,", "code", "cannot be a code"),
    ("new without density", "NEW,name,New,,,,", "field", "density"),
]


@pytest.mark.parametrize(
    ("line", "column", "words"), [case[1:] for case in LINES], ids=[case[0] for case in LINES]
)
def test_a_wrong_line_is_named_with_line_column_and_reason_and_nothing_is_written(
    formulator: User, line: str, column: str, words: str
) -> None:
    text = HEAD + "KAC,name,Renamed,,,,\n" + line + "\n"
    before = everything()
    plan = plan_upload(text)
    assert [(error.line, error.column) for error in plan.errors] == [(3, column)], plan.errors
    assert words in plan.errors[0].message
    with pytest.raises(BadInput, match="nothing was written"):
        apply(formulator, text)
    assert everything() == before


def test_the_same_figure_twice_is_refused_naming_the_first_line() -> None:
    plan = plan_upload(HEAD + "UAN,name,A,,,,\nKAC,name,B,,,,\nUAN,name,C,,,,\n")
    assert [(error.line, error.column) for error in plan.errors] == [(4, "field")]
    assert "line 2" in plan.errors[0].message


def test_every_wrong_line_is_named_at_once() -> None:
    text = HEAD + "UAN,name,,,,,\nUAN,cost,1,,,,\nKAC,short,maybe,,,,\nKAC,colour,x,,,,\n"
    assert [error.line for error in plan_upload(text).errors] == [2, 3, 4, 5]


FILES: list[tuple[str, bytes, str]] = [
    ("empty", b"", "lacks the column"),
    ("header only", HEAD.encode(), "holds no lines"),
    ("missing column", b"code,value\nUAN,1\n", "lacks the column field"),
    ("unknown column", b"code,field,value,price\nUAN,name,x,1\n", "unknown column: price"),
    ("column twice", b"code,field,value,value\nUAN,name,x,y\n", "column twice: value"),
    ("another encoding", HEAD.encode() + "UAN,name,Stärke,,,,\n".encode("latin-1"), "not UTF-8"),
    ("its line", (HEAD * 3 + "UAN,name,Stärke,,,,\n").encode("latin-1"), "(line 4)"),
    ("binary", b"code,field,value\nUAN,name,\x00\n", "binary data"),
    ("a picture", b"\x89PNG\r\n\x1a\n" + bytes(range(256)), "not UTF-8"),
    ("large", b"x" * (MOST_BYTES + 1), "larger than"),
    ("many lines", HEAD.encode() + b"UAN,short,no,,,,\n" * 25_001, "more than 25,000 lines"),
    ("open quote", HEAD.encode() + b'UAN,name,"never closed,,,,\n', "not readable CSV"),
    ("endless cell", HEAD.encode() + b'UAN,name,"' + b"x" * 200_000 + b'",,,,\n', "CSV"),
    ("too many cells", HEAD.encode() + b"UAN,name,x,,,,,surplus\n", "more cells"),
    ("two such lines", HEAD.encode() + b"\nA,b,c,,,,,d\nA,b,c,,,,\nA,b,c,,,,,e\n", "Line 3, 5"),
]


@pytest.mark.parametrize(("data", "words"), [f[1:] for f in FILES], ids=[f[0] for f in FILES])
def test_a_file_that_is_no_table_gets_a_sentence(
    formulator: User, signed_in: Callable[[User], Client], data: bytes, words: str
) -> None:
    before = everything()
    status, page = upload(signed_in(formulator), data)
    assert status == 400
    assert words in page
    assert everything() == before


def test_text_that_a_spreadsheet_would_run_is_exported_harmless_and_comes_back(
    formulator: User,
) -> None:
    evil = ["=HYPERLINK(1)", "+1+1", "-2+3", "@SUM(A1)", "'quoted", "\tTab"]
    for number, text in enumerate(evil):
        BaseStock.objects.create(
            code=f"E{number}", name=text, density_lb_per_gal=10.0,
            density_source=text, density_mark="demo", notes=f"{text}\nsecond line, with comma",
        )  # fmt: skip
    table = export_catalogue(TODAY)
    for row in csv.reader(io.StringIO(table, newline="")):
        assert not [cell for cell in row if cell.startswith(("=", "+", "-", "@", "\t", "\r"))]
    plan = plan_upload(table)
    assert not plan.errors
    assert plan.counts["new"] == plan.counts["changed"] == 0


def test_an_empty_catalogue_exports_an_example_that_can_be_uploaded(formulator: User) -> None:
    StockCost._base_manager.all()._raw_delete("default")
    AnalysisFigure.objects.all().delete()
    BaseStock.objects.all().delete()
    plan = apply(formulator, export_catalogue(TODAY))
    assert plan.counts["new"] == 4
    assert BaseStock.objects.get().code == "STOCK1"


def test_the_page_previews_then_writes_all_of_it(
    formulator: User, signed_in: Callable[[User], Client]
) -> None:
    client = signed_in(formulator)
    before = everything()
    status, page = upload(client, NEW_STOCK)
    assert status == 200
    assert "5 new, 0 changed, 0 as before. Nothing is written yet." in page
    assert everything() == before
    status, page = confirm(client, plan_upload(NEW_STOCK).digest)
    assert status == 200
    assert "Catalogue updated: 5 new" in page
    assert BaseStock.objects.filter(code="SUGAR").exists()
    _, page = confirm(client, "anything")
    assert "no table waiting" in page


def test_errors_are_shown_line_by_line_and_offer_no_confirmation(
    formulator: User, signed_in: Callable[[User], Client]
) -> None:
    client = signed_in(formulator)
    status, page = upload(client, HEAD + "UAN,short,maybe,,,,\n")
    assert status == 400
    assert "maybe is neither yes nor no." in page
    assert "Confirm" not in page
    status, page = confirm(client, plan_upload(HEAD + "UAN,short,maybe,,,,\n").digest)
    assert status == 400
    assert "nothing was written" in page


def test_what_changed_since_the_preview_is_shown_before_it_is_written(
    formulator: User, signed_in: Callable[[User], Client]
) -> None:
    client = signed_in(formulator)
    text = HEAD + "UAN,charging_rank,45,,,,\n"
    upload(client, text)
    digest = plan_upload(text).digest
    BaseStock.objects.filter(code="UAN").update(charging_rank=44)
    with pytest.raises(ChangedMeanwhile):
        apply_upload(acting_user=formulator, text=text, seen_digest=digest)
    _, page = confirm(client, digest)
    assert "The catalogue changed since the preview" in page
    assert "<td>44</td><td>45</td>" in page
    assert BaseStock.objects.get(code="UAN").charging_rank == 44
    confirm(client, plan_upload(text).digest)
    assert BaseStock.objects.get(code="UAN").charging_rank == 45


def test_a_failure_half_way_leaves_nothing_behind(
    formulator: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = everything()

    def fails(**kwargs: object) -> None:
        raise RuntimeError("power cut")

    monkeypatch.setattr("formulas.stocks.actions.upload.write_cost", fails)
    with pytest.raises(RuntimeError, match="power cut"):
        apply(formulator, NEW_STOCK)
    assert everything() == before


@pytest.mark.parametrize("person", ["rep", "plant_worker", "customer"])
def test_only_formulator_and_office_may(
    request: pytest.FixtureRequest, signed_in: Callable[[User], Client], person: str
) -> None:
    user = request.getfixturevalue(person)
    client = signed_in(user)
    assert client.get("/stocks/upload/").status_code == 403
    assert client.get("/stocks/export.csv").status_code == 403
    assert upload(client, NEW_STOCK)[0] == 403
    with pytest.raises(NotAllowed):
        apply(user, NEW_STOCK)
    assert not BaseStock.objects.filter(code="SUGAR").exists()


def test_the_office_downloads_and_uploads_costs_alone(
    office: User, signed_in: Callable[[User], Client]
) -> None:
    client = signed_in(office)
    answer = client.get("/stocks/export.csv")
    assert "stock-costs-" in answer["Content-Disposition"]
    rows = list(csv.DictReader(io.StringIO(decode(answer.content), newline="")))
    assert rows
    assert {row["field"] for row in rows} == {"cost"}
    assert "as before" in upload(client, answer.content)[1]
    before = everything()
    status, page = upload(client, HEAD + "UAN,name,Other,,,,\nSUGAR,cost,1,lb,,,2026-01-01\n")
    assert status == 400
    assert "no cost; a formulator" in page
    assert "no stock SUGAR" in page
    with pytest.raises(BadInput, match="nothing was written"):
        apply_upload(acting_user=office, text=NEW_STOCK, seen_digest="")
    assert everything() == before
    status, page = upload(client, HEAD + "uan,cost,0.3,lb,,,11/30/2026\n")
    digest = page.partition('name="digest" value="')[2].partition('"')[0]
    # From 0.18 to 0.30 a pound: asked about, whichever way it comes in.
    assert "+66.7 %" in page
    sure = page.partition('name="sure" value="')[2].partition('"')[0]
    sent = {"confirm": "yes", "digest": digest}
    for words in ("", "UAN 0.4"):
        asked = client.post("/stocks/upload/", {**sent, "sure": words})
        assert asked.status_code == 409
        assert "are they right?" in asked.content.decode()
    assert everything() == before
    assert client.post("/stocks/upload/", {**sent, "sure": sure}).status_code == 302
    newest = StockCost.objects.filter(stock__code="UAN").order_by("-pk")[0]
    assert (newest.amount, newest.effective_from) == (Decimal("0.3"), date(2026, 11, 30))


def in_tabs(text: str) -> str:
    return text.replace(",", "\t")


COST = "code,field,value,unit,effective_from\nUAN,cost,1234.5,ton,2026-11-30\n"
QUOTED = "\n".join(",".join(f'"{cell}"' for cell in line.split(",")) for line in COST.splitlines())
CODES = ["UAN", "TRZ", "KAC", "FES", "WATER"]
ODDITIES: list[tuple[str, bytes]] = [
    ("as exported", COST.encode()),
    ("a mark of UTF-8", COST.encode("utf-8-sig")),
    ("UTF-16 with its mark", in_tabs(COST).encode("utf-16")),
    ("UTF-16 the other way round", b"\xfe\xff" + in_tabs(COST).encode("utf-16-be")),
    ("UTF-16 without a mark", COST.encode("utf-16-le")),
    ("UTF-16 the other way round without a mark", COST.encode("utf-16-be")),
    ("tabs", in_tabs(COST).encode()),
    ("semicolons", COST.replace(",", ";").encode()),
    ("small code", COST.replace("UAN", "uan").encode()),
    ("capital headers and field", COST.upper().replace("TON", "ton").encode()),
    ("words in the header", COST.replace("effective_from", " Effective From").encode()),
    ("a US date", COST.replace("2026-11-30", "11/30/2026").encode()),
    ("dollars and thousands", COST.replace("1234.5", '"$1,234.50"').encode()),
    ("thousands and a point", COST.replace("1234.5", '"1,234.50"').encode()),
    ("dollars by the ton", COST.replace(",ton", ",$/Ton").encode()),
    ("line ends of Windows", COST.replace("\n", "\r\n").encode()),
    ("line ends of old", COST.replace("\n", "\r").encode()),
    ("blank lines", ("\n\n" + COST.replace("\n", "\n,,,,\n\n")).encode()),
    ("everything in quotes", QUOTED.encode()),
]


@pytest.mark.parametrize("data", [case[1] for case in ODDITIES], ids=[case[0] for case in ODDITIES])
def test_a_table_is_read_however_a_spreadsheet_wrote_it(data: bytes) -> None:
    plan = plan_upload(decode(data), costs_only=True)
    assert plan.errors == ()
    assert [change.new for change in plan.changes] == ["1234.5 per ton from 2026-11-30"]


def test_one_day_written_in_two_ways_is_one_day() -> None:
    text = HEAD + "UAN,cost,1,lb,,,11/30/2026\nUAN,cost,2,lb,,,2026-11-30\n"
    assert "line 2" in plan_upload(text).errors[0].message


def test_five_thousand_costs_take_as_many_questions_as_one() -> None:
    """What takes long is asking: the number of queries does not grow with the lines."""
    days = [date(2027, 1, 1) + timedelta(days=number) for number in range(1_000)]
    lines = [f"{code},cost,1,lb,,,{day:%m/%d/%Y}\n" for day in days for code in CODES]
    counts = []
    for text in (HEAD + lines[0], HEAD + "".join(lines)):
        with CaptureQueriesContext(connection) as queries:
            plan = plan_upload(text, costs_only=True)
        counts.append(len(queries))
    assert len(plan.changes) == len(lines) == 5_000
    assert counts[0] == counts[1] <= 8


def test_the_download_is_a_csv_file_with_a_name(
    formulator: User, signed_in: Callable[[User], Client]
) -> None:
    response = signed_in(formulator).get("/stocks/export.csv")
    assert response["Content-Type"] == "text/csv; charset=utf-8"
    assert response["Content-Disposition"].startswith('attachment; filename="base-stocks-')
    assert response.content.startswith(b"\xef\xbb\xbfcode,field,value")
