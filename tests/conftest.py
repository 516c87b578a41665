"""The cast: one person of each role, a second customer as the stranger, no network, no chance.

``--second-database`` leaves out what another kind of database cannot change (tests/second_run.py).
"""

import gc
import os
import socket
from collections.abc import Callable, Iterator, Set
from importlib import import_module
from pathlib import Path
from pkgutil import walk_packages
from typing import Any

import pytest
from django.contrib.staticfiles.handlers import StaticFilesHandler
from django.test import Client, testcases
from hypothesis import HealthCheck, settings

import blendshop
import formulas
import orders
from blendshop.accounts.models import Company, User
from blendshop.languages.compiled import compile_if_changed
from blendshop.roles import Role
from tests.databases import django_db_setup
from tests.factories import CompanyFactory, UserFactory
from tests.second_run import Rerun, function_of, rerun_of, settled_tests
from tests.statements import StatementRecord

__all__ = ["django_db_setup"]  # a fixture

#: Playwright's sync API runs an event loop beside the database fixtures.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "1")

#: Property tests repeat exactly, alone or in the whole suite: same examples, and no clock.
settings.register_profile(
    "repeatable",
    derandomize=True,
    deadline=None,
    database=None,
    max_examples=40,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("repeatable")


def pytest_configure(config: pytest.Config) -> None:
    """The catalogue as it is now, also where the suite runs without ``make``."""
    if not hasattr(config, "workerinput"):
        compile_if_changed()
    if folder := config.getoption("--statements"):
        config.pluginmanager.register(StatementRecord(folder))


def pytest_collection_finish(session: pytest.Session) -> None:
    """Hypothesis draws constants it finds in our imported modules too: so import each of them."""
    if any(hasattr(getattr(item, "obj", None), "hypothesis") for item in session.items):
        for package in (blendshop, formulas, orders):
            for module in walk_packages(package.__path__, f"{package.__name__}."):
                import_module(module.name)
    # What is loaded by now stays to the end: nobody need look through it again and again.
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000)


LOOPBACK = {"127.0.0.1", "::1", "localhost"}


LEFT_OUT = pytest.StashKey[int]()


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--second-database", action="store_true", help="leave out what no database changes"
    )
    parser.addoption(
        "--statements", type=Path, help="a folder for what each test sends to the database"
    )


#: The engine knows no framework and no database (``[tool.importlinter]``); nor do its tests.
WITHOUT_DATABASE = (Path(__file__).parent / "engine", Path(formulas.__path__[0]) / "engine")


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    if config.getoption("--second-database") and collection_path in WITHOUT_DATABASE:
        return True
    return None


def can_differ(item: pytest.Item, settled: Set[str]) -> bool:
    """Whether another kind of database can change what the test finds."""
    rerun = rerun_of(item)
    return rerun is Rerun.ALWAYS or (
        rerun is Rerun.UNLESS_SETTLED and function_of(item.nodeid) not in settled
    )


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if config.getoption("--second-database"):
        settled = settled_tests()
        left_out = [item for item in items if not can_differ(item, settled)]
        items[:] = [item for item in items if can_differ(item, settled)]
        config.hook.pytest_deselected(items=left_out)
        config.stash[LEFT_OUT] = len(left_out)
        if hasattr(config, "workeroutput"):
            config.workeroutput["left_out"] = len(left_out)


@pytest.hookimpl(optionalhook=True)
def pytest_testnodedown(node: Any) -> None:
    """Each worker collects the same tests; the number reaches the one that reports."""
    if "left_out" in getattr(node, "workeroutput", {}):
        node.config.stash[LEFT_OUT] = node.workeroutput["left_out"]


def pytest_terminal_summary(terminalreporter: Any, config: pytest.Config) -> None:
    if LEFT_OUT in config.stash:
        terminalreporter.write_line(
            f"No matter of the database, left out: {config.stash[LEFT_OUT]} tests"
        )


@pytest.fixture(autouse=True)
def only_loopback(monkeypatch: pytest.MonkeyPatch) -> None:
    """A test that reaches beyond this machine is a bug."""
    connect = socket.socket.connect

    def guarded(self: socket.socket, address: object) -> None:
        if isinstance(address, tuple) and address[0] not in LOOPBACK:
            raise AssertionError(f"a test tried to reach {address[0]}")
        return connect(self, address)

    monkeypatch.setattr(socket.socket, "connect", guarded)


@pytest.fixture(autouse=True, scope="session")
def static_files_from_their_folders() -> Iterator[None]:
    """Also where the first test that begins the live server is no browser's, which all share.

    pytest-django knows the app of static files by Django's own name only, and would serve what was
    collected, which is nothing.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(testcases, "_StaticFilesHandler", StaticFilesHandler)
        yield


@pytest.fixture
def company(db: None) -> Company:
    """The customer company most tests speak of."""
    return CompanyFactory(name="Brookmeadow Lawn Care")


@pytest.fixture
def rep(db: None) -> User:
    return UserFactory(email="rep@plant.example", name="Robin Rep", role=Role.REP)


@pytest.fixture
def plant_worker(db: None) -> User:
    return UserFactory(email="plant@plant.example", name="Pat Plant", role=Role.PLANT)


@pytest.fixture
def formulator(db: None) -> User:
    return UserFactory(email="formulator@plant.example", name="Fran Form", role=Role.FORMULATOR)


@pytest.fixture
def office(db: None) -> User:
    return UserFactory(email="office@plant.example", name="Ollie Office", role=Role.OFFICE)


@pytest.fixture
def customer(company: Company) -> User:
    return UserFactory(
        email="owner@brookmeadow.example", name="Casey Owner", role=Role.CUSTOMER, company=company
    )


@pytest.fixture
def stranger(db: None) -> User:
    """A customer of another company: may see nothing of the first."""
    return UserFactory(
        email="owner@elsewhere.example",
        name="Sam Stranger",
        role=Role.CUSTOMER,
        company=CompanyFactory(name="Elsewhere Turf"),
    )


@pytest.fixture
def signed_in() -> Callable[[User], Client]:
    """``signed_in(user)`` is a test client with that person's session."""

    def client_of(user: User) -> Client:
        client = Client()
        client.force_login(user)
        return client

    return client_of
