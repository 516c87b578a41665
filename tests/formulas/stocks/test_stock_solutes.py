"""What is dissolved in a stock: loaded, shown with its source, uploaded, and computed with."""

from datetime import date

import pytest
from django.core.exceptions import ValidationError
from django.test import Client

from blendshop.accounts.models import User
from formulas.engine_bridge import load_catalogue
from formulas.models import BaseStock
from formulas.models.solute_list import check_solutes, read_solutes, write_solutes
from formulas.stocks.actions.upload import apply_upload
from formulas.stocks.table.plan import plan_upload
from tests.factories import BaseStockFactory
from tests.shipped_stocks import put_in_demo_stocks

TODAY = date(2026, 6, 1)
HEAD = "code,field,value,unit,source,mark,effective_from\n"


@pytest.fixture
def shipped(formulator: User) -> dict[str, BaseStock]:
    put_in_demo_stocks(formulator, TODAY)
    return {stock.code: stock for stock in BaseStock.objects.for_engine()}


def test_the_shipped_stocks_say_what_is_dissolved_and_whence(shipped: dict[str, BaseStock]) -> None:
    uan = shipped["UAN28"]
    assert uan.solutes == "urea 30; NH4NO3 40"
    assert uan.solutes_pct() == {"urea": 30.0, "NH4NO3": 40.0}
    assert "Mikkelsen" in uan.solutes_source
    assert uan.solutes_mark == "computed"
    known = {code for code, stock in shipped.items() if stock.solutes}
    assert {"UAN32", "AMS8", "KTHIO25", "ATS12", "UREA20", "FESULF5"} <= known
    # Nothing is published of condensates and polyphosphate, and the solvent of DCD is not stated.
    assert not known & {"TRIAZONE28", "MU30", "APP1034", "DCD20", "WATER"}


def test_every_density_reaches_the_engine_at_60_f(shipped: dict[str, BaseStock]) -> None:
    """68 F figures: urea by its volume, about 0.0017 lb/gal per F; the unknown by 0.0020."""
    stocks = {stock.code: stock for stock in load_catalogue(TODAY).stocks}
    assert stocks["UAN28"].density_lb_per_gal == shipped["UAN28"].density_lb_per_gal == 10.67
    assert stocks["UAN28"].solutes == {"urea": 30.0, "NH4NO3": 40.0}
    assert shipped["UREA20"].density_temp_f == shipped["TRIAZONE28"].density_temp_f == 68.0
    assert stocks["UREA20"].density_lb_per_gal == pytest.approx(9.34 + 8 * 0.0018, abs=0.004)
    assert stocks["TRIAZONE28"].density_lb_per_gal == pytest.approx(10.7 + 8 * 0.0020, abs=1e-6)


def test_water_stated_at_68_f_is_the_waters_own_figure_at_60_f(db: None) -> None:
    """8.3304 and 8.3372 lb/gal, IAPWS-95."""
    water = BaseStockFactory(traits=["water"], density_lb_per_gal=8.3304, density_temp_f=68.0)
    assert water.density_at_60_f() == pytest.approx(8.3372, abs=2e-4)


def test_the_page_shows_it_with_source_and_the_density_at_60_f(
    shipped: dict[str, BaseStock], formulator: User, client: Client
) -> None:
    client.force_login(formulator)
    page = client.get("/stocks/UREA20/").content.decode()
    assert "urea 42.88" in page
    assert "Density at 68 °F" in page
    assert "Density at 60 °F, as blends are figured" in page
    assert "9.355" in page
    page = client.get("/stocks/TRIAZONE28/").content.decode()
    assert "0.0020 lb/gal per °F" in page
    assert "its volume is taken to add up" in page


def test_a_table_sets_and_removes_it(formulator: User) -> None:
    BaseStockFactory(code="POT")
    line = 'POT,solutes,"KCl 20; urea 5",%,sheet of June,supplier,\n'
    plan = plan_upload(HEAD + line)
    apply_upload(acting_user=formulator, text=HEAD + line, seen_digest=plan.digest)
    stock = BaseStock.objects.get(code="POT")
    assert stock.solutes_pct() == {"KCl": 20.0, "urea": 5.0}
    assert (stock.solutes_source, stock.solutes_mark) == ("sheet of June", "supplier")
    gone = HEAD + "POT,solutes,,%,,,\n"
    apply_upload(acting_user=formulator, text=gone, seen_digest=plan_upload(gone).digest)
    stock.refresh_from_db()
    assert (stock.solutes, stock.solutes_source) == ("", "")


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("POT,solutes,KCl 20,%,,,\n", "needs its source"),
        ("POT,solutes,NaCl 20,%,sheet,supplier,\n", "NaCl is no known solute"),
        ("POT,solutes,KCl,%,sheet,supplier,\n", "is not a substance and its percent"),
        ("POT,solutes,KCl 60; urea 50,%,sheet,supplier,\n", "more than 100 %"),
    ],
)
def test_a_wrong_line_is_refused_in_a_sentence(formulator: User, line: str, said: str) -> None:
    BaseStockFactory(code="POT")
    errors = plan_upload(HEAD + line).errors
    assert errors
    assert said in " ".join(error.message for error in errors)


def test_text_and_figures_are_the_same_thing() -> None:
    solutes = {"(NH4)2SO4": 38.0, "urea": 1.25}
    assert read_solutes(write_solutes(solutes)) == solutes
    assert read_solutes("  ") == {}
    for wrong in ("KCl ten", "KCl 1; KCl 2", "20", "KCl nan"):
        with pytest.raises(ValidationError):
            read_solutes(wrong)
    with pytest.raises(ValidationError):
        check_solutes("KCl 0")
