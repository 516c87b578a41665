"""The codec of frozen records: what goes in comes back, and old versions are read for ever."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from typing import ClassVar

import pytest

from blendshop.snapshot import Snapshot, SnapshotError, StoredIn, stored_as


class Mark(StrEnum):
    MEASURED = "measured"
    COMPUTED = "computed"


@dataclass(frozen=True, slots=True)
class Figure(Snapshot):
    ppm: float
    mark: Mark = Mark.MEASURED


@dataclass(frozen=True, slots=True, kw_only=True)
class Record(Snapshot):
    analysis_pct: Mapping[str, float] = field(default_factory=dict)
    metals: Mapping[Mark, Figure] = field(default_factory=dict)
    marks: frozenset[Mark] = frozenset()
    rows: tuple[tuple[str, ...], ...] = ()
    point: tuple[str, Decimal] | None = None


@dataclass(frozen=True, slots=True)
class Sparse(Snapshot):
    """Fields that are left out while empty, and one of two shapes."""

    OMITTED = frozenset({"figure", "names"})

    aim: str | Figure
    figure: Figure | None = None
    names: tuple[str, ...] = ()
    kept: tuple[str, ...] = ()


def through_json(record):
    return type(record).from_json(json.loads(json.dumps(record.to_json())))


def test_mappings_sets_enumerations_and_nested_tuples_come_back_as_they_were():
    record = Record(
        analysis_pct={"N": 24.0, "K2O": 3.0},
        metals={Mark.COMPUTED: Figure(0.5, Mark.COMPUTED)},
        marks=frozenset({Mark.MEASURED, Mark.COMPUTED}),
        rows=(("a", "b"), ("c",)),
        point=("N", Decimal("1.50")),
    )
    restored = through_json(record)
    assert restored == record
    assert list(restored.analysis_pct) == ["N", "K2O"]
    assert type(next(iter(restored.metals))) is Mark
    assert str(restored.point[1]) == "1.50"


def test_omitted_fields_are_written_only_when_there_is_something_in_them():
    assert Sparse("cheapest").contract_json() == {"aim": "cheapest", "kept": []}
    full = Sparse("cheapest", Figure(0.5), ("a",))
    assert set(full.contract_json()) == {"aim", "figure", "names", "kept"}
    assert through_json(full) == full


def test_one_of_two_shapes_comes_back_as_it_was():
    assert through_json(Sparse(Figure(0.5))).aim == Figure(0.5)
    assert through_json(Sparse("cheapest")).aim == "cheapest"


def test_a_contract_holds_no_version():
    assert "version" not in Figure(1.0).contract_json()


def test_a_set_is_stored_in_one_order():
    record = Record(marks=frozenset({Mark.MEASURED, Mark.COMPUTED}))
    assert record.to_json()["marks"] == ["computed", "measured"]


def test_only_the_outermost_record_says_its_version():
    stored = Record(metals={Mark.MEASURED: Figure(1.0)}).to_json()
    assert stored["version"] == 1
    assert stored["metals"] == {"measured": {"ppm": 1.0, "mark": "measured"}}
    with pytest.raises(SnapshotError, match=r"metals\.measured: unknown field 'version'"):
        Record.from_json({"metals": {"measured": {"version": 1, "ppm": 1.0}}})


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        ({"analysis_pct": [1]}, "analysis_pct: expected an object, got list"),
        ({"analysis_pct": {"N": "24"}}, r"analysis_pct\.N: expected float, got '24'"),
        ({"metals": {"guessed": {"ppm": 1}}}, "metals: 'guessed' is not a Mark"),
        ({"marks": ["guessed"]}, r"marks\[0\]: 'guessed' is not a Mark"),
        ({"rows": [["a"], [7]]}, r"rows\[1\]\[0\]: expected str, got 7"),
        ({"point": ["N"]}, "point: expected 2 entries, got 1"),
        ({"rows": None}, "rows: expected a list, got NoneType"),
    ],
)
def test_what_does_not_fit_is_refused_with_its_place(data, sentence):
    with pytest.raises(SnapshotError, match=sentence):
        Record.from_json(data)


def test_a_key_that_is_no_text_cannot_be_stored():
    with pytest.raises(SnapshotError, match="analysis_pct: a int cannot be a key"):
        Record(analysis_pct={1: 2.0}).to_json()


@dataclass(frozen=True, slots=True)
class Tank(Snapshot):
    """Version 1 had only a name, version 2 gallons under another name."""

    VERSION: ClassVar[int] = 3
    UPGRADES: ClassVar = {
        1: lambda old: {**old, "gal": 100},
        2: lambda old: {"name": old["name"], "capacity_gal": old["gal"]},
    }

    name: str
    capacity_gal: float


@pytest.mark.parametrize(
    "stored",
    [
        {"name": "T1"},
        {"version": 1, "name": "T1"},
        {"version": 2, "name": "T1", "gal": 100},
        {"version": 3, "name": "T1", "capacity_gal": 100},
    ],
)
def test_every_older_version_becomes_the_newest_step_by_step(stored):
    assert Tank.from_json(stored) == Tank("T1", 100.0)
    assert Tank.from_json(stored).to_json()["version"] == 3


@pytest.mark.parametrize(
    ("version", "sentence"),
    [
        (4, r"Tank\.version: 4 was written by newer code; this code reads up to 3"),
        (0, "0 is not a version"),
        ("2", "'2' is not a version"),
        (True, "True is not a version"),
    ],
)
def test_an_unknown_version_is_refused_by_name(version, sentence):
    with pytest.raises(SnapshotError, match=sentence):
        Tank.from_json({"version": version, "name": "T1", "capacity_gal": 100})


def test_old_json_that_its_upgrade_cannot_read_is_refused_by_name():
    with pytest.raises(SnapshotError, match="Tank: cannot be upgraded from version 2: KeyError"):
        Tank.from_json({"version": 2, "name": "T1"})


def test_a_version_without_an_upgrade_is_refused():
    @dataclass(frozen=True)
    class Hole(Snapshot):
        VERSION: ClassVar[int] = 2
        name: str = ""

    with pytest.raises(SnapshotError, match="there is no upgrade from 1"):
        Hole.from_json({"name": "a"})


@dataclass(frozen=True, slots=True)
class Window(Snapshot):
    low_lb_per_gal: float = field(metadata=stored_as("low"))


def test_a_field_keeps_the_key_it_was_stored_under():
    assert Window(10.5).to_json() == {"version": 1, "low": 10.5}
    assert Window.from_json({"low": 10.5}) == Window(10.5)
    with pytest.raises(SnapshotError, match="unknown field 'low_lb_per_gal'"):
        Window.from_json({"low_lb_per_gal": 10.5})


class Row:
    window = StoredIn(Window, "stored")

    def __init__(self, stored):
        self.stored = stored


def test_a_row_gives_its_column_as_the_record_and_decodes_it_once():
    row = Row({"low": 10.5})
    assert row.window == Window(10.5)
    assert row.window is row.window
    row.stored = {"low": 9.0}  # read again from the database
    assert row.window == Window(9.0)


def test_a_damaged_column_is_refused_when_it_is_read():
    with pytest.raises(SnapshotError, match=r"Window\.low: expected float"):
        _ = Row({"low": "10.5"}).window


def test_the_record_of_a_row_cannot_be_set_beside_its_column():
    with pytest.raises(AttributeError, match="Write stored"):
        Row({"low": 10.5}).window = Window(9.0)
