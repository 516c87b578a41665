"""Another recipe for the wish of a saved revision: whether it keeps all of it, and its answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from django.utils.translation import gettext as _

from blendshop.errors import BadInput
from formulas.answers.promised_grade import promised_grade
from formulas.answers.wish import Fill, FixedShare, Wish
from formulas.contracts.formulation import Solution, formulate
from formulas.contracts.formulation_request import read_request
from formulas.engine.blend.stock_table import content_table
from formulas.engine.blend.verify import verify
from formulas.engine.result import EngineFailure
from formulas.engine_bridge import Catalogue
from formulas.models import BlendRevision


def other_recipe(
    revision: BlendRevision, shares: Mapping[str, float], catalogue: Catalogue
) -> Solution:
    """The evaluated recipe (percent by weight by stock code) on a catalogue.

    BadInput, saying why, unless it keeps every part of the revision's wish (contents, slow
    release, limits, exclusions, number of stocks), the grade it was sold under and the rules.
    A wish with a margin is refused: its minima hold for the margin's own recipe only.
    """
    wished = revision.wished
    if wished.margin is not None:
        raise BadInput(
            _("{revision} was made with a margin; its recipe is not changed by a plan.").format(
                revision=revision
            )
        )
    used = {code: pct for code, pct in shares.items() if pct > 0}
    _keep_the_wish(revision, used, catalogue)
    body = Wish(
        recipe=tuple(FixedShare(code, pct) for code, pct in used.items()),
        fill=wished.fill or Fill(volume_gal=1.0),
    )
    solution = formulate(body.contract_json(), catalogue=catalogue).solution
    if solution is None or solution.answer.is_stopped:
        stops = () if solution is None else solution.answer.stops
        raise BadInput(_("This recipe must not be mixed. {why}").format(why=" ".join(stops)))
    grade = promised_grade(wished, solution.blend.analysis)
    if grade != revision.grade:
        raise BadInput(
            _("The grade would read {grade} instead of {revision}.").format(
                grade=grade, revision=revision.grade
            )
        )
    return solution


def _keep_the_wish(
    revision: BlendRevision, shares: Mapping[str, float], catalogue: Catalogue
) -> None:
    offered = {stock.code for stock in catalogue.stocks}
    for code in shares:
        if code not in offered:
            unknown = _("There is no stock with the code {code}.").format(code=code)
            raise BadInput(catalogue.left_out.get(code, unknown))
    wish = replace(revision.wished, recipe=())
    problem = read_request(wish.contract_json(), catalogue).problem
    # An objective is no limit; without one, only what was promised is verified.
    problem = replace(problem, strongest=None)
    pct = np.array([shares.get(stock.code, 0.0) for stock in problem.stocks])
    try:
        verify(problem, content_table(problem.stocks), pct)
    except EngineFailure as miss:
        raise BadInput(_("The recipe would not keep the wish: {miss}").format(miss=miss)) from miss
