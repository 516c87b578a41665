"""``python -m blendshop.languages.compiled``: what Django reads, made from what is kept.

Django reads ``django.mo``; kept in the repository is ``django.po`` alone. Babel compiles it, so
that no gettext of the system is needed.
"""

from pathlib import Path
from typing import Final

from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

LOCALES: Final = Path(__file__).resolve().parents[1] / "locale"


def compile_if_changed() -> None:
    """Compile each ``.po`` that is newer than its ``.mo``; what is doubted (fuzzy) is left out."""
    for kept in LOCALES.glob("*/LC_MESSAGES/django.po"):
        made = kept.with_suffix(".mo")
        if made.exists() and made.stat().st_mtime >= kept.stat().st_mtime:
            continue
        with kept.open("rb") as source:
            catalogue = read_po(source, locale=kept.parts[-3])
        partial = made.with_suffix(".part")
        with partial.open("wb") as target:
            write_mo(target, catalogue)
        partial.replace(made)  # another process never reads half of it


if __name__ == "__main__":
    compile_if_changed()
