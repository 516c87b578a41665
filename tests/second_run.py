"""What a second run of the suite, on another kind of database, leaves out.

``--second-database`` leaves out

- tests without a database: pytest-django refuses every query of theirs;
- those marked ``one_database``, which look at words, links or arithmetic of what others read;
- those of ``second_run.txt``: each kind of statement they send is sent by at least two tests that
  stay. The list is chosen from a record of the suite (``make second-run``). The gate looks in its
  own run on SQLite for statements that have lost their last test since, and runs what sent them
  after all. A test that is not in the list runs on both, so a new one does. What commits, races,
  migrates, needs PostgreSQL or a browser is never left out, nor are the files of ``_ALWAYS``.
"""

import argparse
import json
import sys
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path
from typing import Final

import pytest

_LIST: Final = Path(__file__).with_suffix(".txt")
_WORDS: Final = "# Left out of a second run; written by `make second-run` (tests/second_run.py).\n"
#: How many of the tests that stay send each kind of statement, where as many do at all.
_SENDERS: Final = 2
_ALWAYS: Final = (
    # Requests that meet, connections that wait, schemas that change.
    "tests/browser/",
    "tests/concurrency/",
    "tests/upgrade/",
    # Searches, orders of letters, sums, constraints, code of its own for each database: the same
    # statement on other rows may find something else.
    "tests/backups/",
    "tests/formulas/catalogue_version/",
    "tests/formulas/models/",
    "tests/formulas/repricing/",
    "tests/monitoring/",
    "tests/orders/compliance/",
    "tests/orders/searching/",
    "tests/orders/year_figures/",
    "tests/orders/inventory/test_ledger.py",
    "tests/orders/quoting/test_quote_numbers.py",
    "tests/orders/quoting/test_sheet_searches.py",
    "tests/orders/tanks/test_tank_ledger.py",
    "tests/test_shared_cache.py",
    "tests/whole_site/test_database_rules.py",
)


def settled_tests() -> frozenset[str]:
    """``path::name`` of each test that a second run leaves out, without parameters."""
    lines = _LIST.read_text(encoding="utf-8").splitlines()
    return frozenset(line for line in lines if not line.startswith("#"))


def function_of(node_id: str) -> str:
    return node_id.partition("[")[0]


class Rerun(StrEnum):
    """Whether a test runs on a second kind of database too."""

    ALWAYS = "always"
    NEVER = "never"
    UNLESS_SETTLED = "unless settled"


def rerun_of(item: pytest.Item) -> Rerun:
    """What its marks and fixtures say."""
    mark = item.get_closest_marker("django_db")
    fixtures = getattr(item, "fixturenames", ())
    if (mark is None and "_django_db_helper" not in fixtures) or item.get_closest_marker(
        "one_database"
    ):
        return Rerun.NEVER
    commits = "transactional_db" in fixtures or (mark and mark.kwargs.get("transaction"))
    if commits or item.get_closest_marker("postgres") or item.nodeid.startswith(_ALWAYS):
        return Rerun.ALWAYS
    return Rerun.UNLESS_SETTLED


@dataclass(frozen=True)
class Sending:
    """What one test function sent, in all its cases."""

    rerun: Rerun
    cpu_s: float
    kinds: frozenset[str]


def read_record(folder: Path) -> dict[str, Sending]:
    """Test functions with a database; raises FileNotFoundError without a record."""
    files = sorted(folder.glob("*.json"))
    if not files:
        raise FileNotFoundError(f"no record of statements in {folder}")
    record: dict[str, Sending] = {}
    for file in files:
        for node_id, sent in json.loads(file.read_text(encoding="utf-8")).items():
            test, kinds = function_of(node_id), frozenset(sent["kinds"])
            if known := record.get(test):
                cpu_s = known.cpu_s + sent["cpu_s"]
                record[test] = replace(known, cpu_s=cpu_s, kinds=known.kinds | kinds)
            elif sent["rerun"] != Rerun.NEVER:
                record[test] = Sending(Rerun(sent["rerun"]), sent["cpu_s"], kinds)
    return record


def chosen(record: Mapping[str, Sending]) -> list[str]:
    """The costliest first, each that ``_SENDERS`` others make up for."""
    senders = Counter(kind for sending in record.values() for kind in sending.kinds)
    left_out = []
    for test, sending in sorted(record.items(), key=lambda each: (-each[1].cpu_s, each[0])):
        if sending.rerun is Rerun.UNLESS_SETTLED and all(
            senders[kind] > _SENDERS for kind in sending.kinds
        ):
            left_out.append(test)
            senders.subtract(sending.kinds)
    return sorted(left_out)


def lost(record: Mapping[str, Sending], left_out: frozenset[str]) -> list[str]:
    """Tests left out that send a kind of statement no test that stays sends any more."""
    kept = {kind for test, sent in record.items() if test not in left_out for kind in sent.kinds}
    return sorted(test for test in left_out & record.keys() if not record[test].kinds <= kept)


def main() -> None:
    """Names what has to run after all, or chooses anew what a second run leaves out."""
    parser = argparse.ArgumentParser(prog="python -m tests.second_run", description=main.__doc__)
    parser.add_argument("folder", type=Path, help="of --statements")
    parser.add_argument("--choose", action="store_true", help="write the list anew")
    asked = parser.parse_args()
    record = read_record(asked.folder)
    if asked.choose:
        tests = chosen(record)
        _LIST.write_text(_WORDS + "".join(f"{test}\n" for test in tests), encoding="utf-8")
        sys.stdout.write(f"{len(tests)} of {len(record)} tests with a database are left out\n")
        return
    for test in lost(record, settled_tests()):
        sys.stdout.write(f"{test}\n")


if __name__ == "__main__":
    main()
