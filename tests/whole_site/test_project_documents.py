"""What the documents list is what is there: packages in the map, variables in the README."""

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
FLOORS = ("blendshop", "formulas", "formulas/engine", "orders")
#: Folders whose name and use are Django's, not ours.
DJANGOS = {"management", "migrations", "templatetags"}


def first_cells(document: str) -> list[str]:
    """The first cell of each table row of a document."""
    lines = (ROOT / document).read_text().splitlines()
    return [line.split("|")[1] for line in lines if line.startswith("|")]


def mapped_paths() -> set[str]:
    """Every backticked path in the first column of DEVELOPERS.md's tables."""
    return {
        path for cell in first_cells("DEVELOPERS.md") for path in re.findall(r"`([^`]+)`", cell)
    }


def packages() -> list[str]:
    """The floors and the packages directly in each, as paths ending in a slash."""
    inside = (
        folder
        for floor in FLOORS
        for folder in sorted((ROOT / floor).iterdir())
        if folder.is_dir() and folder.name not in DJANGOS and any(folder.glob("*.py"))
    )
    return sorted({f"{folder.relative_to(ROOT)}/" for folder in inside})


def described_variables() -> list[str]:
    """Variables of README's table; ``_PORT`` after ``X_HOST`` in one cell stands for ``X_PORT``."""
    found: list[str] = []
    for cell in first_cells("README.md"):
        full = ""
        for name in re.findall(r"`([A-Z_]+)`", cell):
            full = full.rpartition("_")[0] + name if name.startswith("_") else name
            found.append(full)
    return found


def read_variables() -> set[str]:
    """Variables that ``blendshop/settings.py`` reads: the first argument of each ``env.…(…)``."""
    tree = ast.parse((ROOT / "blendshop/settings.py").read_text())
    return {
        node.args[0].value
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and isinstance(node.func.value, ast.Name)
        and node.func.value.id == "env"
        and isinstance(node.args[0], ast.Constant)
        and isinstance(node.args[0].value, str)
    }


@pytest.mark.parametrize("package", packages())
def test_each_package_is_in_the_directory_map(package: str) -> None:
    assert package in mapped_paths(), f"DEVELOPERS.md's map has no `{package}`"


def test_the_directory_map_names_no_folder_that_is_gone() -> None:
    folders = {path for path in mapped_paths() if path.endswith("/")}
    assert folders
    gone = {path for path in folders if not any(ROOT.glob(path))}
    assert not gone


def test_settings_reads_what_the_readme_describes_and_nothing_else() -> None:
    described = described_variables()
    assert len(described) == len(set(described))
    assert set(described) == read_variables()
