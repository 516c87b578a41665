"""The contracts on the command line: exit statuses, clean standard output, no database."""

import io
import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from django.core.management import call_command

from formulas.contracts.formulation import formulate
from formulas.contracts.spoken_formulation import formulate_spoken
from formulas.models import AnalysisFigure, BaseStock, CompatibilityRule, StockCost
from tests.factories import make_simple_catalogue
from tests.formulas.contracts.test_spray_sheet_contract import REQUEST as SPRAY
from tests.formulas.sample_wishes import out_of_reach, wish

ROOT = Path(__file__).resolve().parents[3]


def test_a_solved_wish_exits_0_with_the_answer_of_the_contract(
    run: Callable[..., tuple[int, str, str]],
) -> None:
    status, out, err = run("formulate", wish(), "--json")
    assert (status, err) == (0, "")
    assert json.loads(out) == json.loads(
        json.dumps(formulate_spoken(wish(), catalogue=None).contract_json())
    )


def test_a_wish_out_of_reach_exits_1_and_still_answers(
    run: Callable[..., tuple[int, str, str]],
) -> None:
    status, out, err = run("formulate", out_of_reach(), "--json")
    assert (status, err) == (1, "")
    assert json.loads(out)["status"] == "out_of_reach"
    status, out, _ = run("formulate", out_of_reach())
    assert status == 1
    assert "Instead 1:" in out


@pytest.mark.parametrize("flags", [(), ("--json",)])
def test_a_bad_request_exits_2_with_its_fields_on_standard_error(
    run: Callable[..., tuple[int, str, str]], flags: tuple[str, ...]
) -> None:
    status, out, err = run("formulate", wish(most_stocks=0, nonsense=1), *flags)
    assert (status, out) == (2, "")
    assert "most_stocks: " in err
    assert "nonsense: Is not a known key." in err


@pytest.mark.parametrize("body", ["{", "[]", '{"fill": NaN}', '{"a":1,"a":1}'])
def test_text_that_is_no_request_exits_2(
    run: Callable[..., tuple[int, str, str]], db: None, body: str
) -> None:
    status, out, err = run("formulate", body)
    assert (status, out) == (2, "")
    assert err.strip()


def test_a_file_that_is_not_there_exits_2(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        call_command("formulate", "no-such-file.json")
    assert stopped.value.code == 2
    assert "cannot be read" in capsys.readouterr().err


def test_the_table_shows_recipe_totals_and_analysis(
    run: Callable[..., tuple[int, str, str]],
) -> None:
    status, out, _ = run("formulate", wish())
    answer = formulate(wish(), catalogue=None).answer.contract_json()
    assert status == 0
    for line in answer["recipe"]:
        assert line["code"] in out
        assert line["cost"] in out
    assert answer["totals"]["cost"] in out
    assert "Total nitrogen" in out
    assert "Slowly available, percent of total N" in out


def test_without_stocks_the_catalogue_is_used(
    run: Callable[..., tuple[int, str, str]], db: None
) -> None:
    make_simple_catalogue()
    BaseStock.objects.filter(code="FES").update(short=True)
    status, out, _ = run("formulate", {"targets": [{"nutrient": "N", "min": 20}]}, "--json")
    assert status == 0
    answer = json.loads(out)
    assert {line["code"] for line in answer["recipe"]} == {"UAN", "WATER"}
    assert answer["left_out"] == [
        {"code": "FES", "reason": "ferrous sulfate solution is short at the moment."}
    ]


def test_as_a_program_it_reads_standard_input_and_needs_no_database(tmp_path: Path) -> None:
    """A real process: nothing but JSON on standard output, and a database that is not there."""
    missing = tmp_path / "missing.sqlite3"
    done = subprocess.run(
        [sys.executable, "manage.py", "formulate", "-", "--json"],
        input=json.dumps(wish()).encode(),
        capture_output=True,
        cwd=ROOT,
        env={"PATH": "", "BLENDSHOP_DEBUG": "true", "DATABASE_URL": f"sqlite:///{missing}"},
        check=False,
        timeout=60,
    )
    assert done.returncode == 0, done.stderr.decode()
    assert not missing.exists()
    assert json.loads(done.stdout)["status"] == "solved"
    assert done.stderr == b""


def test_a_spray_sheet_is_answered_as_json_and_as_a_table(
    run: Callable[..., tuple[int, str, str]],
) -> None:
    status, out, _ = run("spraysheet", SPRAY, "--json")
    assert status == 0
    assert json.loads(out)["n_lb_per_gal"] == 2.996
    status, out, _ = run("spraysheet", SPRAY)
    assert "29.9" in out
    assert "Burn risk" in out
    status, out, err = run("spraysheet", {**SPRAY, "tank_gal": 0}, "--json")
    assert (status, out) == (2, "")
    assert "tank_gal" in err


def counts() -> tuple[int, ...]:
    tables = (BaseStock, AnalysisFigure, CompatibilityRule, StockCost)
    return tuple(table.objects.count() for table in tables)


def test_loading_the_fact_tables_twice_changes_nothing_the_second_time(db: None) -> None:
    call_command("load_base_stocks", "--demo-costs", stdout=io.StringIO())
    first = counts()
    assert all(first)
    histories = BaseStock.history.count()
    call_command("load_base_stocks", "--demo-costs", stdout=io.StringIO())
    assert counts() == first
    assert BaseStock.history.count() == histories


def test_a_line_on_the_command_line_is_formulated_and_said_back(
    run: Callable[..., tuple[int, str, str]], catalogue: dict[str, BaseStock]
) -> None:
    out = io.StringIO()
    call_command("formulate", line="24-0-2 half slow, 2 totes", stdout=out)
    assert 'Understood: {"targets": [{"nutrient": "N", "min": 24.0}' in out.getvalue()
    status, _, err = run("formulate", {"line": "20-0-0"}, "--line", "24-0-2")
    assert (status, "line: Stands in the request too" in err) == (2, True)
    status, _, err = run("formulate", {}, "--line", "some iron")
    assert (status, "How much iron?" in err) == (2, True)
