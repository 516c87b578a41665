"""One table of what the charging screen decides, for the server and for the screen's script.

The server decides when a weight has arrived, the script while it waits; both by the same rule.
Masses are pounds as text. Of each step ``charged`` has arrived and ``waiting`` has not; the
server is asked with both arrived. ``left`` is of its step; at ``stop_at`` on the tank's scale the
current step is weighed in.
"""

import json
from pathlib import Path

import pytest

DECISIONS = [
    pytest.param(case, id=case["name"])
    for case in json.loads(Path(__file__).with_suffix(".json").read_text())
]
