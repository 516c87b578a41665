"""Heavy metals of base stocks: uploaded, exported, shown; a missing one is never a zero."""

from collections.abc import Callable
from datetime import date

import pytest
from django.core.exceptions import ValidationError
from django.test import Client

from blendshop.accounts.models import User
from formulas.models import BaseStock, MetalFigure
from formulas.stocks.actions.upload import apply_upload
from formulas.stocks.table.export import export_catalogue
from formulas.stocks.table.plan import Plan, plan_upload
from tests.formulas.stocks.sure import surely
from tests.shipped_stocks import put_in_shipped_stocks

pytestmark = pytest.mark.usefixtures("catalogue")

HEAD = "code,field,value,unit,source,mark,effective_from\n"
LEAD = HEAD + "UAN,metal.Pb,0.8,ppm,certificate 12 (invented),supplier,2026-03-01\n"


def apply(user: User, text: str) -> Plan:
    return surely(apply_upload, acting_user=user, text=text, seen_digest=plan_upload(text).digest)


def lead() -> MetalFigure:
    return MetalFigure.objects.get(stock__code="UAN", metal="Pb")


def test_a_metal_comes_with_its_source_and_the_day_of_its_analysis(formulator: User) -> None:
    plan = apply(formulator, LEAD)
    assert plan.counts == {"new": 1, "changed": 0, "unchanged": 0}
    figure = lead()
    assert (figure.ppm, figure.source, figure.mark) == (
        0.8,
        "certificate 12 (invented)",
        "supplier",
    )
    assert figure.measured_on == date(2026, 3, 1)
    assert BaseStock.objects.get(code="UAN").metals_ppm() == {"Pb": 0.8}


def test_the_exported_metals_uploaded_again_change_nothing(formulator: User) -> None:
    apply(formulator, LEAD)
    text = export_catalogue(date(2026, 6, 1))
    assert "UAN,metal.Pb,0.8,ppm,certificate 12 (invented),supplier,2026-03-01" in text
    counts = apply(formulator, text).counts
    assert (counts["new"], counts["changed"]) == (0, 0)


def test_none_found_is_a_figure_and_an_empty_value_takes_the_figure_away(formulator: User) -> None:
    apply(formulator, HEAD + "UAN,metal.Pb,0,ppm,certificate 12,supplier,\n")
    assert lead().ppm == 0.0
    apply(formulator, HEAD + "UAN,metal.Pb,,,,,\n")
    assert BaseStock.objects.get(code="UAN").metals_ppm() == {}


def test_a_newer_certificate_is_a_change(formulator: User) -> None:
    apply(formulator, LEAD)
    newer = LEAD.replace("2026-03-01", "2026-05-01")
    assert apply(formulator, newer).counts["changed"] == 1
    assert lead().measured_on == date(2026, 5, 1)


@pytest.mark.parametrize(
    ("line", "column", "words"),
    [
        ("UAN,metal.Au,1,ppm,s,demo,", "field", "no screened metal"),
        ("UAN,metal.Pb,-1,ppm,s,demo,", "value", "0 to 1,000,000"),
        ("UAN,metal.Pb,1000001,ppm,s,demo,", "value", "0 to 1,000,000"),
        ("UAN,metal.Pb,1,ppm,,,", "source", "needs its source"),
        ("UAN,metal.Pb,1,ppm,s,demo,March", "effective_from", "not a date"),
    ],
)
def test_a_wrong_metal_is_refused_with_its_column_and_a_reason(
    line: str, column: str, words: str
) -> None:
    (error,) = plan_upload(HEAD + line + "\n").errors
    assert error.column == column
    assert words in error.message


def test_the_stock_page_tells_measured_metals_from_those_nobody_measured(
    formulator: User, signed_in: Callable[[User], Client]
) -> None:
    apply(formulator, LEAD)
    page = signed_in(formulator).get("/stocks/UAN/").content.decode()
    assert '<th scope="row">Lead (Pb)</th><td class="number">0.8</td>' in page
    assert "certificate 12 (invented), analysed 2026-03-01" in page
    assert page.count("not assessed: enter the figure of a certificate") == 8


def test_a_metal_is_given_once_for_a_stock(formulator: User) -> None:
    apply(formulator, LEAD)
    twice = MetalFigure(
        stock=BaseStock.objects.get(code="UAN"), metal="Pb", ppm=1.0, source="s", mark="demo"
    )
    with pytest.raises(ValidationError, match="already given"):
        twice.full_clean()


def test_shipped_stocks_say_what_their_other_ingredients_come_from(formulator: User) -> None:
    put_in_shipped_stocks(formulator)
    origins = dict(BaseStock.objects.exclude(other_origin="").values_list("code", "other_origin"))
    assert origins["HUMIC12"] == "leonardite"
    assert set(origins) == {"HUMIC12", "FULVIC5", "SEAWEED", "NBPT25", "DCD20"}
    marks = BaseStock.objects.exclude(other_origin="").values_list("other_origin_mark", flat=True)
    assert set(marks) == {"from memory, unverified"}
