"""What tests of watching share."""

import io
import logging
import logging.config
from collections.abc import Callable, Iterator

import pytest

from blendshop.monitoring.logs import logging_setting


@pytest.fixture
def lines_of() -> Iterator[Callable[..., Callable[[], list[str]]]]:
    """``lines_of("json")`` gives what the log writes in that form from here on."""
    root = logging.getLogger()
    before, added = root.level, []

    def of(form: str) -> Callable[[], list[str]]:
        setting = logging_setting(level=logging.INFO, form=form, errors_to=[])
        configurator = logging.config.DictConfigurator(setting)
        written = io.StringIO()
        handler = logging.StreamHandler(written)
        handler.setFormatter(configurator.configure_formatter(setting["formatters"][form]))
        root.addHandler(handler)
        root.setLevel(logging.INFO)
        added.append(handler)
        return lambda: written.getvalue().splitlines()

    yield of
    for handler in added:
        root.removeHandler(handler)
    root.setLevel(before)


@pytest.fixture
def json_lines(lines_of: Callable[..., Callable[[], list[str]]]) -> Callable[[], list[str]]:
    return lines_of("json")
