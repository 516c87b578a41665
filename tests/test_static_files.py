"""The names static files get in production."""

import re
import shutil
from pathlib import Path
from posixpath import dirname, normpath

import pytest
from django.apps import apps
from django.conf import settings
from django.contrib.staticfiles.finders import get_finders

from blendshop.static_files import HashedModulesStorage

SHOP = Path(settings.STATICFILES_DIRS[0]) / "shop"
#: Folders of modules that import one another.
FOLDERS = ("charging", "crew")
#: What pages load: the screen itself, the question before signing out, a crew's phone page.
ENTRIES = ("shop/charging/screen.js", "shop/charging/signing_out.js", "shop/crew/phone.js")
MODULES = [
    "shop/offline_copy.js",
    *(f"shop/{folder}/{file.name}" for folder in FOLDERS for file in (SHOP / folder).iterdir()),
]


@pytest.fixture
def collected(tmp_path):
    """``collected()`` gives the storage as ``collectstatic`` leaves it with these modules."""

    def collect(**changed):
        root = tmp_path / f"static{len(list(tmp_path.iterdir()))}"
        for folder in FOLDERS:
            shutil.copytree(SHOP / folder, root / "shop" / folder)
        shutil.copy(SHOP / "offline_copy.js", root / "shop")
        for name, more in changed.items():
            with (root / "shop" / "charging" / f"{name}.js").open("a") as file:
                file.write(more)
        storage = HashedModulesStorage(location=str(root), base_url="/static/")
        names = list(MODULES)
        for _name, _hashed, done in storage.post_process({name: (storage, name) for name in names}):
            assert not isinstance(done, Exception), done
        return storage

    return collect


def imports(storage, name):
    """Names a module of this name imports, as the browser would ask for them."""
    found = re.findall(r'from "(\.[^"]+)"', (Path(storage.location) / name).read_text())
    return {normpath(f"{dirname(name)}/{each}") for each in found}


def test_every_module_imports_the_hashed_names_of_the_others(collected):
    storage = collected()
    seen, waiting = set(), [storage.stored_name(entry) for entry in ENTRIES]
    while waiting:
        seen.add(name := waiting.pop())
        waiting += imports(storage, name) - seen
    assert seen == {storage.stored_name(name) for name in MODULES}
    assert all(re.search(r"\.[0-9a-f]{12}\.js$", name) for name in seen)


def test_a_change_in_a_module_renames_those_that_import_it(collected):
    before, after = collected(), collected(decisions="\n// changed\n")
    renamed = {
        Path(name).stem for name in MODULES if before.stored_name(name) != after.stored_name(name)
    }
    assert renamed == {
        "decisions", "lot_targets", "network", "queue", "rendering", "screen", "signing_out",
        "unsent",
    }  # fmt: skip


def test_what_pages_load_is_collected_and_little_else():
    ignored = apps.get_app_config("staticfiles").ignore_patterns
    files = {
        name: Path(storage.path(name)).stat().st_size
        for finder in get_finders()
        for name, storage in finder.list(ignored)
    }
    templates = (Path(settings.BASE_DIR) / "templates").rglob("*.html")
    named = {
        name
        for template in templates
        for name in re.findall(r"{% static ['\"]([^'\"]+)['\"]", template.read_text())
    }
    assert "css/bootstrap.min.css" in named
    by_libraries = {
        "django_htmx/htmx-2.min.js",
        "drf_spectacular_sidecar/swagger-ui-dist/swagger-ui.css",
        "drf_spectacular_sidecar/swagger-ui-dist/swagger-ui-bundle.js",
        "drf_spectacular_sidecar/swagger-ui-dist/swagger-ui-standalone-preset.js",
        "drf_spectacular_sidecar/swagger-ui-dist/favicon-32x32.png",
        "admin/css/base.css",
        "admin/js/vendor/jquery/jquery.min.js",
        "admin/js/vendor/select2/select2.full.min.js",
        "admin/js/vendor/xregexp/xregexp.min.js",
    }
    assert named | by_libraries <= set(files)
    assert sum(files.values()) < 5_000_000, sorted(files, key=files.get)[-10:]
