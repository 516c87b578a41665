"""A line of a template can be read without scrolling sideways for long."""

from pathlib import Path
from typing import Final

TEMPLATES: Final = Path(__file__).resolve().parents[2] / "templates"
LONGEST: Final = 300


def test_no_line_of_a_template_is_longer_than_a_screen_or_two() -> None:
    found = [
        f"{path.relative_to(TEMPLATES)}:{number}"
        for path in sorted((*TEMPLATES.rglob("*.html"), *TEMPLATES.rglob("*.txt")))
        for number, line in enumerate(path.read_text().splitlines(), start=1)
        if len(line) > LONGEST
    ]
    assert found == []
