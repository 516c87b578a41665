"""What production installs is pinned with hashes and is what requirements.txt allows."""

import re
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[2]
LOCK = (ROOT / "blendshop/deploy/requirements.lock").read_text()
#: Name to version and its hashes.
ENTRY = re.compile(
    r"^([a-z0-9-]+)==(\S+) \\\n((?:    --hash=sha256:[0-9a-f]{64}(?: \\)?\n)+)", re.MULTILINE
)
LOCKED = {name: version for name, version, _hashes in ENTRY.findall(LOCK)}
WANTED = [
    Requirement(said)
    for line in (ROOT / "requirements.txt").read_text().splitlines()
    if (said := line.partition("#")[0].strip())
]


@pytest.mark.parametrize("wanted", WANTED, ids=lambda wanted: wanted.name)
def test_each_requirement_is_locked_in_its_range(wanted):
    version = LOCKED.get(canonicalize_name(wanted.name))
    assert version, f"{wanted.name} is not locked: run make lock"
    assert wanted.specifier.contains(version), f"{wanted} is locked at {version}: run make lock"


def test_an_extra_brings_its_packages():
    extras = {f"{wanted.name}[{extra}]" for wanted in WANTED for extra in wanted.extras}
    assert {"psycopg[binary]", "psycopg[pool]"} <= extras
    assert {"psycopg-binary", "psycopg-pool", "brotli"} <= set(LOCKED)


def _needed_by(name):
    """What an installed package says it needs; one that this Python does without is not here."""
    try:
        return distribution(name).requires or ()
    except PackageNotFoundError:
        return ()


@pytest.mark.parametrize("python", ["3.11.0", "3.11.2", "3.13.0"])  # the oldest; Debian 12, 13
def test_the_lock_is_whole_on_every_python_it_is_installed_on(python):
    """A package may need another one on some Pythons only; the lock is made on one."""
    place = {"python_full_version": python, "python_version": python.rpartition(".")[0]}
    extras = {canonicalize_name(wanted.name): wanted.extras for wanted in WANTED}
    missing = [
        f"{name} needs {needed.name}"
        for name in LOCKED
        for said in _needed_by(name)
        for needed in (Requirement(said),)
        if canonicalize_name(needed.name) not in LOCKED
        and any(
            needed.marker is None or needed.marker.evaluate({**place, "extra": extra})
            for extra in ("", *extras.get(name, ()))
        )
    ]
    assert not missing


def test_every_package_of_the_lock_has_hashes_and_no_line_names_a_place():
    named = [line for line in LOCK.splitlines() if line and line[0] not in "# "]
    assert len(named) == len(LOCKED)
    assert not re.search(r"://|--find-links|--index|--trusted-host| @ |file:", LOCK)
