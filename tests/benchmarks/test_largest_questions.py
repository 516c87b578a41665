"""Processor time of the largest questions a request may ask. Nothing here is a pass or a fail.

    pytest tests/benchmarks/test_largest_questions.py --benchmark-enable --benchmark-only -s

Each is asked for its blend (or why there is none), for its curve and for a plan of a load: what
is refused as too large ends by then as well.
"""

from contextlib import suppress

import pytest

from formulas.contracts.deadline import TooLargeToDecide
from formulas.contracts.formulation import curve, formulate
from formulas.contracts.load_plans import plan_load
from tests.benchmarks.figures import cpu_s, ms
from tests.benchmarks.largest_questions import largest_questions

LOAD = {"volume_gal": 265, "capacity_gal": 275}


def planned(body):
    plan_load({key: body[key] for key in body if key != "fill"} | {"load": LOAD}, catalogue=None)


ASKED = {
    "blend": lambda body: formulate(body, catalogue=None),
    "curve": lambda body: curve(body, catalogue=None),
    "plan": planned,
}


@pytest.mark.parametrize("what", ASKED)
def test_the_largest_questions(benchmark, what):
    times = {}
    for name, body in largest_questions().items():

        def ask(body=body):
            with suppress(TooLargeToDecide):
                ASKED[what](body)

        times[name] = 1000 * cpu_s(ask)
        ms(f"largest_{what}_{name}", times[name])
    ms(f"largest_{what}_worst", max(times.values()))
    benchmark.pedantic(lambda: ask(), rounds=1)
