"""One table of what the charging screen decides, for the server and for the screen's script.

The server decides when a weight has arrived, the script while it waits; both by the same rule.
Masses are pounds as text. Of each step ``charged`` has arrived and ``waiting`` has not; the
server is asked with both arrived. ``plan_tolerance`` is a number of pounds that the plan says;
without it the rule of before holds. ``left`` is of its step; at ``stop_at`` on the tank's scale the
current step is weighed in.
"""

import json
from pathlib import Path

import pytest


def _cases(name):
    rows = json.loads(Path(__file__).with_name(name).read_text())
    return [pytest.param(case, id=case["name"]) for case in rows]


DECISIONS = _cases("charging_decisions.json")
#: What a weight is asked about; ``gal`` is in the tank before it.
QUESTIONS = _cases("charging_questions.json")
