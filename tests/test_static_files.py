"""The names static files get in production."""

import re
import shutil
from pathlib import Path

import pytest
from django.conf import settings

from blendshop.static_files import HashedModulesStorage

MODULES = Path(settings.STATICFILES_DIRS[0]) / "shop" / "charging"
#: What pages load: the screen itself, and the question before signing out.
ENTRIES = ("shop/charging/screen.js", "shop/charging/signing_out.js")


@pytest.fixture
def collected(tmp_path):
    """``collected()`` gives the storage as ``collectstatic`` leaves it with these modules."""

    def collect(**changed):
        root = tmp_path / f"static{len(list(tmp_path.iterdir()))}"
        shutil.copytree(MODULES, root / "shop" / "charging")
        for name, more in changed.items():
            with (root / "shop" / "charging" / f"{name}.js").open("a") as file:
                file.write(more)
        storage = HashedModulesStorage(location=str(root), base_url="/static/")
        names = [f"shop/charging/{file.name}" for file in MODULES.iterdir()]
        for _name, _hashed, done in storage.post_process({name: (storage, name) for name in names}):
            assert not isinstance(done, Exception), done
        return storage

    return collect


def imports(storage, name):
    """Names a module of this name imports, as the browser would ask for them."""
    return re.findall(r'from "\./([^"]+)"', (Path(storage.location) / name).read_text())


def test_every_module_imports_the_hashed_names_of_the_others(collected):
    storage = collected()
    seen, waiting = set(), [storage.stored_name(entry) for entry in ENTRIES]
    while waiting:
        seen.add(name := waiting.pop())
        waiting += {f"shop/charging/{each}" for each in imports(storage, name)} - seen
    assert seen == {storage.stored_name(f"shop/charging/{file.name}") for file in MODULES.iterdir()}
    assert all(re.search(r"\.[0-9a-f]{12}\.js$", name) for name in seen)


def test_a_change_in_a_module_renames_those_that_import_it(collected):
    before, after = collected(), collected(decisions="\n// changed\n")
    renamed = {
        file.stem
        for file in MODULES.iterdir()
        if before.stored_name(f"shop/charging/{file.name}")
        != after.stored_name(f"shop/charging/{file.name}")
    }
    assert renamed == {
        "decisions", "lot_targets", "network", "queue", "rendering", "screen", "signing_out",
        "unsent",
    }  # fmt: skip
