"""House rules about where code stands, held by reading the source."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
#: What actions write with; each is called by actions alone or before anybody is signed in.
WRITERS = {
    "blendshop/saving.py": "saves a row for an action, with its history",
    "blendshop/accounts/models.py": "the manager Django itself calls to make a person",
    "blendshop/accounts/security_log.py": "a line of the log, also of signing in",
    "blendshop/accounts/role_groups.py": "writes the five groups after a migration",
    "orders/records/moves.py": "every change of state, for actions",
    "orders/records/numbering.py": "running numbers, for actions",
}
CREATING = {"create", "bulk_create", "bulk_update", "get_or_create", "update_or_create"}


def _modules() -> Iterator[Path]:
    for app in ("blendshop", "formulas", "orders"):
        for path in sorted((ROOT / app).rglob("*.py")):
            if "migrations" not in path.parts:
                yield path


def _may_write(path: Path) -> bool:
    """A room's writing is in its ``actions.py`` or its ``actions/``; nowhere else."""
    inside = path.relative_to(ROOT)
    is_action = inside.name == "actions.py" or "actions" in inside.parts[:-1]
    return is_action or inside.as_posix() in WRITERS


def _database_writes(path: Path) -> list[str]:
    """Calls such as ``x.objects.create(`` or ``thing.save(`` with their line numbers."""
    found = []
    for node in ast.walk(ast.parse(path.read_text())):
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)):
            continue
        owner = ast.unparse(node.func.value)
        name = node.func.attr
        is_write = (
            (name in CREATING and owner != "super()")
            or (
                name in {"save", "delete"}
                and not owner.startswith(("super()", "form", "request"))
                and owner != "cache"
            )
            or (name == "update" and any(part in owner for part in (".objects", "filter(", "all(")))
        )
        if is_write:
            found.append(f"{path.relative_to(ROOT)}:{node.lineno} {owner}.{name}")
    return found


def test_all_writing_is_in_action_functions() -> None:
    writes = [hit for path in _modules() if not _may_write(path) for hit in _database_writes(path)]
    assert writes == []


def test_what_writes_for_actions_still_writes() -> None:
    assert all(_database_writes(ROOT / path) for path in WRITERS)


def test_the_check_itself_sees_a_write(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sample = tmp_path / "orders" / "quoting" / "pages.py"
    sample.parent.mkdir(parents=True)
    sample.write_text(
        "def page(order):\n    Order.objects.create(number='1')\n    it.save()\n"
        "    order.events.create(why='')\n    Order.objects.filter(pk=1).update(status='open')\n"
    )
    monkeypatch.setitem(globals(), "ROOT", tmp_path)
    assert not _may_write(sample)
    assert _may_write(sample.with_name("actions.py"))
    assert _may_write(sample.parent / "actions" / "quotes.py")
    assert [hit.rpartition(" ")[2] for hit in _database_writes(sample)] == [
        "Order.objects.create",
        "it.save",
        "order.events.create",
        "Order.objects.filter(pk=1).update",
    ]


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
