"""Applications for the tests of the law, told by nitrogen rate, shares, phosphate and day."""

from datetime import date

from formulas.engine.law import Circumstances, at_n_rate
from formulas.reference.rule_packs import rule_packs

PACKS = {pack.code: pack for pack in rule_packs()}
#: Total nitrogen of the made-up liquid, percent by weight.
N_PCT = 20.0


def spray(n=0.7, s=0.0, win=0.0, p2o5=0.0, on=None, label=None, **answers):
    """``n`` lb N at ``s`` % slow, of which ``win`` % of N insoluble; ``p2o5`` % in the product."""
    parts = {
        "N.urea": N_PCT * (100.0 - s) / 100.0,
        "N.slow": N_PCT * (s - win) / 100.0,
        "N.insoluble": N_PCT * win / 100.0,
        "P2O5": p2o5,
    }
    day = date.fromisoformat(on) if on else None
    return at_n_rate(parts, n, day, Circumstances(**answers), label)


def p2o5_for(lb, n=0.5):
    """The P2O5 content that brings ``lb`` with ``n`` lb of nitrogen."""
    return {"n": n, "p2o5": N_PCT * lb / n}
