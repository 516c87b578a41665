"""Lines of the log outside of a request."""

import json
import logging
from datetime import datetime

from blendshop.monitoring.logs import logging_setting

log = logging.getLogger("blendshop.somewhere")


def test_text_is_one_line_with_time_level_and_event(lines_of):
    lines = lines_of("text")
    log.warning("Lot %s is short", "L-1")
    (line,) = lines()
    time, _, rest = line.partition(" ")
    assert datetime.fromisoformat(time).tzinfo is not None
    assert rest == "[warning] Lot L-1 is short [blendshop.somewhere]"


def test_text_shows_a_traceback_and_no_values_of_variables(lines_of):
    lines, password = lines_of("text"), "not for the log"
    try:
        [].pop()
    except IndexError:
        log.exception("It broke")
    assert lines()[-1] == "IndexError: pop from empty list"
    assert password not in "".join(lines())


def test_json_has_no_request_where_there_is_none(json_lines):
    log.info("two\nlines", extra={"route": "x/", "unknown": "left out"})
    (line,) = json_lines()
    read = json.loads(line)
    assert set(read) == {"time", "level", "message", "logger", "route"}
    assert read["message"] == "two\nlines"


def test_errors_are_mailed_only_where_somebody_is_named():
    without = logging_setting(level=30, form="json", errors_to=[])
    named = logging_setting(level=30, form="json", errors_to=["a@plant.example"])
    assert without["root"]["handlers"] == ["console"]
    assert named["root"]["handlers"] == ["console", "mail"]
    assert named["handlers"]["mail"]["to"] == ["a@plant.example"]
