"""The engine is pure: no framework, no files, no network, no clock, no chance without a seed."""

import ast
import dataclasses
import doctest
import importlib
import subprocess
import sys
from pathlib import Path

import pytest

import formulas.engine
from formulas.engine import problem, result

ENGINE = Path(formulas.engine.__file__).parent
#: Every module of the engine and of the packages in it, by its dotted name below the engine.
MODULES = sorted(
    ".".join(path.relative_to(ENGINE).with_suffix("").parts) for path in ENGINE.rglob("*.py")
)


def source(name):
    return (ENGINE / Path(*name.split("."))).with_suffix(".py").read_text()


ALLOWED_ROOTS = {
    "__future__", "bisect", "collections", "contextlib", "contextvars", "dataclasses",
    "datetime", "decimal", "enum", "formulas", "fractions", "functools", "highspy", "itertools",
    "math", "numpy", "operator", "re", "statistics", "string", "types", "typing",
    "weakref",
}  # fmt: skip
FORBIDDEN_CALLS = {"open", "print", "input", "exec", "eval", "__import__"}
#: Dates are values here; asking what day it is is not.
FORBIDDEN_METHODS = {
    "now", "today", "utcnow", "read_text", "write_text", "read_bytes", "genfromtxt",
}  # fmt: skip
SUFFIXES = (
    "pct", "_lb", "_gal", "_per_lb", "_per_gal", "_per_unit", "_lb_per_gal", "_ratio",
    "_sqft", "_acre", "_oz", "_acres", "_c", "_f", "_kg", "_l",
)  # fmt: skip
#: Numbers whose unit is that of the wish they speak of.
OWN_UNIT = {"asked", "best", "to", "value"}


@pytest.mark.parametrize("name", MODULES)
def test_a_module_imports_only_pure_things_and_touches_nothing_outside(name):
    tree = ast.parse(source(name))
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
        if isinstance(node, ast.Attribute):
            assert node.attr not in FORBIDDEN_METHODS, node.attr


def _is_fixed(seed):
    """A whole number, or a constant of the module."""
    if isinstance(seed, ast.Name):
        return seed.id.isupper()
    return isinstance(seed, ast.Constant) and isinstance(seed.value, int)


def _draws(tree):
    """What draws from ``numpy.random`` otherwise than from a generator seeded by a constant."""
    seeded = {
        node.func
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        and ast.unparse(node.func) == "np.random.default_rng"
        and len(node.args) == 1
        and _is_fixed(node.args[0])
    }
    for node in ast.walk(tree):
        owner = ast.unparse(node.value) if isinstance(node, ast.Attribute) else ""
        if owner in {"np.random", "numpy.random"} and node not in seeded:
            yield ast.unparse(node)


@pytest.mark.parametrize("name", MODULES)
def test_a_module_draws_only_from_a_generator_with_its_own_fixed_seed(name):
    assert list(_draws(ast.parse(source(name)))) == []


@pytest.mark.parametrize(
    ("written", "refused"),
    [
        ("np.random.default_rng(_SEED).standard_normal(3)", False),
        ("np.random.default_rng(7)", False),
        ("np.random.default_rng()", True),
        ("np.random.default_rng(None)", True),
        ("np.random.default_rng(volume)", True),
        ("np.random.Generator(np.random.PCG64(7))", True),
        ("np.random.normal()", True),
    ],
)
def test_the_rule_tells_a_fixed_seed_from_chance(written, refused):
    assert bool(list(_draws(ast.parse(written)))) is refused


def test_only_one_module_knows_the_solver():
    knowing = [
        name
        for name in MODULES
        for node in ast.walk(ast.parse(source(name)))
        if isinstance(node, (ast.Import, ast.ImportFrom)) and "highspy" in ast.unparse(node)
    ]
    assert {name.rpartition(".")[2] for name in knowing} == {"highs"}


def test_the_engine_imports_where_there_is_no_django():
    code = (
        "import sys; sys.modules['django'] = None; import formulas.engine;"
        "assert 'formulas.models' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


@pytest.mark.parametrize("name", MODULES)
def test_the_examples_in_the_docstrings_are_true(name):
    dotted = f"formulas.engine.{name}".removesuffix(".__init__")
    failed, _ = doctest.testmod(importlib.import_module(dotted))
    assert failed == 0


def test_the_main_docstrings_carry_an_example():
    examples = {
        name: doctest.testmod(importlib.import_module(f"formulas.engine.{name}")).attempted
        for name in MODULES
        if name.rpartition(".")[2] in {"solving", "mixing", "relaxation", "price_matrix"}
    }
    assert len(examples) == 4, sorted(examples)
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
