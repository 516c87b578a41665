"""The engine is pure: no framework, no files, no network, no clock, no global chance."""

import ast
import dataclasses
import doctest
import importlib
import pkgutil
import subprocess
import sys
from pathlib import Path

import pytest

import formulas.engine
from formulas.engine import problem, result

ENGINE = Path(formulas.engine.__file__).parent
MODULES = sorted(info.name for info in pkgutil.iter_modules([str(ENGINE)]))
ALLOWED_ROOTS = {
    "__future__", "collections", "dataclasses", "decimal", "enum", "formulas", "fractions",
    "functools", "highspy", "itertools", "math", "numpy", "types", "typing",
}  # fmt: skip
FORBIDDEN_CALLS = {"open", "print", "input", "exec", "eval", "__import__"}
SUFFIXES = (
    "pct", "_lb", "_gal", "_per_lb", "_per_gal", "_per_unit", "_lb_per_gal", "_ratio",
    "_sqft", "_acre", "_oz", "_acres", "_c", "_f", "_kg", "_l",
)  # fmt: skip
#: Numbers whose unit is that of the wish they speak of.
OWN_UNIT = {"asked", "best", "to", "value"}


@pytest.mark.parametrize("name", ["__init__", *MODULES])
def test_a_module_imports_only_pure_things_and_touches_nothing_outside(name):
    tree = ast.parse((ENGINE / f"{name}.py").read_text())
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            roots = {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            roots = {node.module.split(".")[0]}
            if node.module.startswith("formulas"):
                assert node.module.startswith("formulas.engine"), node.module
        else:
            roots = set()
        assert roots <= ALLOWED_ROOTS, roots - ALLOWED_ROOTS
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            assert node.func.id not in FORBIDDEN_CALLS
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Attribute):
            assert (node.value.attr, node.attr) != ("random", "default_rng")


def test_only_one_module_knows_the_solver():
    knowing = [
        name
        for name in MODULES
        for node in ast.walk(ast.parse((ENGINE / f"{name}.py").read_text()))
        if isinstance(node, (ast.Import, ast.ImportFrom)) and "highspy" in ast.unparse(node)
    ]
    assert set(knowing) == {"highs"}


def test_the_engine_imports_where_there_is_no_django():
    code = (
        "import sys; sys.modules['django'] = None; import formulas.engine;"
        "assert 'formulas.models' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


@pytest.mark.parametrize("name", ["__init__", *MODULES])
def test_the_examples_in_the_docstrings_are_true(name):
    module = importlib.import_module(
        "formulas.engine" if name == "__init__" else f"formulas.engine.{name}"
    )
    failed, _ = doctest.testmod(sys.modules[module.__name__])
    assert failed == 0


def test_the_main_docstrings_carry_an_example():
    examples = {
        name: doctest.testmod(sys.modules[f"formulas.engine.{name}"]).attempted
        for name in ("solve", "density", "relaxing", "price_matrix")
    }
    assert all(examples.values()), examples
    assert doctest.testmod(formulas.engine).attempted > 0


@pytest.mark.parametrize(
    "owner",
    [
        value
        for module in (problem, result)
        for value in vars(module).values()
        if dataclasses.is_dataclass(value)
    ],
    ids=lambda owner: owner.__name__,
)
def test_values_are_frozen_and_carry_their_unit_in_the_name(owner):
    assert owner.__dataclass_params__.frozen
    for field in dataclasses.fields(owner):
        if "float" in str(field.type) and "Mapping" not in str(field.type):
            assert field.name.endswith(SUFFIXES) or field.name in OWN_UNIT, field.name


def test_every_public_name_exists():
    for name in formulas.engine.__all__:
        assert hasattr(formulas.engine, name)
    assert sorted(formulas.engine.__all__) == list(formulas.engine.__all__)
