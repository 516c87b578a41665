"""``make run`` and ``make test`` say what is missing; a broken environment is made anew."""

import os
import shutil
import socket
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
#: Stands for Python where its own work does not matter: says a version, makes an "environment".
FAKE_PYTHON = """#!/bin/sh
case "$*" in
  *"import ensurepip"*) exit {venv};;
  *"sys.version_info < "*) exit {old};;
  *"print(sys.version_info"*) echo True;;
  --version) echo Python 3.9.2;;
  "-m venv "*)
    mkdir -p "$3/bin"; cp "$0" "$3/bin/python"
    printf '#!/bin/sh\\n# %s\\nexit 0\\n' "$PWD/$3/bin/python" > "$3/bin/pip"
    printf '#!/bin/sh\\necho the suite\\n' > "$3/bin/pytest"
    chmod +x "$3/bin/pip" "$3/bin/pytest";;
  *"import socket"*) exec {real} "$@";;
  *) exit 0;;
esac
"""


@pytest.fixture
def clone(tmp_path):
    folder = tmp_path / "a clone"
    folder.mkdir()
    for name in ("Makefile", "requirements.txt", "requirements-dev.txt"):
        shutil.copy(ROOT / name, folder)
    return folder


def make(clone, *words, python=None, venv=0, old=0):
    if python is None:
        python = "fake-python"
        path = clone.parent / "bin" / python
        path.parent.mkdir(exist_ok=True)
        path.write_text(FAKE_PYTHON.format(venv=venv, old=old, real=sys.executable))
        path.chmod(0o755)
    return subprocess.run(
        ["make", *words, f"PYTHON={python}"],
        cwd=clone,
        env={"PATH": f"{clone.parent / 'bin'}:{os.environ['PATH']}"},
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )


@pytest.mark.parametrize("goal", ["run", "test"])
@pytest.mark.parametrize(
    ("how", "said"),
    [
        ({"old": 1}, "fake-python is Python 3.9.2, and Blendshop needs Python 3.11 or newer"),
        ({"venv": 1}, "fake-python lacks its venv module"),
        ({"python": "no-such-python"}, "There is no no-such-python"),
    ],
)
def test_what_python_lacks_is_said_before_anything_is_made(clone, goal, how, said):
    done = make(clone, goal, **how)
    assert done.returncode == 2
    assert said in done.stderr
    assert "Traceback" not in done.stderr
    assert not (clone / ".venv").exists()


def test_a_taken_port_is_said_before_packages_are_installed(clone):
    with socket.create_server(("127.0.0.1", 0)) as other:
        address = f"127.0.0.1:{other.getsockname()[1]}"
        done = make(clone, "run", f"ADDRESS={address}")
    assert done.returncode == 2
    assert f"{address} cannot be used" in done.stderr
    assert "make run ADDRESS=" in done.stderr
    assert not (clone / ".venv" / "runtime.stamp").exists()


def test_a_working_environment_is_used_again(clone):
    assert "the suite" in make(clone, "test").stdout
    (clone / ".venv" / "kept").touch()
    again = make(clone, "test", old=1)  # what makes a new one is asked no more
    assert "the suite" in again.stdout
    assert (clone / ".venv" / "kept").exists()


def test_an_environment_without_its_interpreter_is_made_anew(clone):
    make(clone, "test")
    (clone / ".venv/bin/python").unlink()
    (clone / ".venv/bin/python").symlink_to("/nowhere/python3.11")
    done = make(clone, "test")
    assert ".venv does not work here and is made anew." in done.stdout
    assert "the suite" in done.stdout


def test_an_environment_that_was_moved_is_made_anew(clone):
    make(clone, "test")
    moved = clone.rename(clone.with_name("moved"))
    done = make(moved, "test")
    assert "is made anew" in done.stdout
    assert "the suite" in done.stdout
    assert str(moved) in (moved / ".venv/bin/pip").read_text()


def test_nobody_elses_environment_is_touched(clone, tmp_path):
    """A link to a working environment elsewhere works."""
    make(clone, "test")
    other = tmp_path / "other"
    shutil.copytree(clone, other, ignore=shutil.ignore_patterns(".venv"))
    (other / ".venv").symlink_to(clone / ".venv")
    assert "made anew" not in make(other, "test").stdout
    assert (clone / ".venv/bin/python").exists()
