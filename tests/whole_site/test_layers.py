"""House rules about where code stands, held by reading the source."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
THIN = ("views", "api", "serializers", "forms", "admin", "commands")
WRITING = {"save", "create", "bulk_create", "update", "delete", "bulk_update", "get_or_create"}


def _modules() -> Iterator[Path]:
    for app in ("blendshop", "formulas", "orders"):
        for path in sorted((ROOT / app).rglob("*.py")):
            if "migrations" not in path.parts:
                yield path


def _is_thin(path: Path) -> bool:
    return any(part.removesuffix(".py") in THIN for part in path.parts)


def _database_writes(path: Path) -> list[str]:
    """Calls such as ``x.objects.create(`` or ``thing.save(`` with their line numbers."""
    found = []
    for node in ast.walk(ast.parse(path.read_text())):
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)):
            continue
        owner = ast.unparse(node.func.value)
        name = node.func.attr
        is_write = (
            (name in WRITING - {"save", "delete", "update"} and ".objects" in owner)
            or (name in {"save", "delete"} and not owner.startswith(("super()", "form", "request")))
            or (name == "update" and (".objects" in owner or "filter(" in owner))
        )
        if is_write:
            found.append(f"{path.relative_to(ROOT)}:{node.lineno} {owner}.{name}")
    return found


def test_views_api_forms_admin_and_commands_leave_writing_to_actions() -> None:
    writes = [hit for path in _modules() if _is_thin(path) for hit in _database_writes(path)]
    assert writes == []


def test_the_check_itself_sees_a_write(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sample = tmp_path / "views.py"
    sample.write_text("def view(request):\n    Order.objects.create(number='1')\n    it.save()\n")
    monkeypatch.setitem(globals(), "ROOT", tmp_path)
    assert _is_thin(sample)
    assert _database_writes(sample) == ["views.py:2 Order.objects.create", "views.py:3 it.save"]


@pytest.mark.parametrize("name", ["utils", "helpers", "common", "misc"])
def test_no_module_is_named_for_nothing(name: str) -> None:
    assert [path for path in _modules() if name in (path.stem, path.parent.name)] == []


def test_money_is_rounded_in_one_module() -> None:
    offenders = [
        str(path.relative_to(ROOT))
        for path in _modules()
        if ".quantize(" in path.read_text()
        and path != ROOT / "blendshop" / "money.py"
        and "engine" not in path.parts  # guarantees are rounded there, money never gets in
    ]
    assert offenders == []


def test_no_two_test_files_share_a_name() -> None:
    """pytest imports test files by their bare name: a second one would not run at all."""
    names = [path.name for path in (ROOT / "tests").rglob("test_*.py")]
    assert sorted({name for name in names if names.count(name) > 1}) == []
