"""Saved blends, each with a recipe of its own that the engine has solved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from blendshop.accounts.models import User
from formulas.answers.promised_grade import promised_grade
from formulas.answers.wish import Wish
from formulas.contracts.formulation import formulate
from formulas.engine_bridge import Catalogue
from formulas.models import Blend, BlendRevision, RecipeReview, RevisionLine
from orders.demo.large.kinds import Kind, SavedRecipe, family_code
from orders.demo.large.size import PlantSize
from orders.models import LabelPromise, ShipTo

AT_ONCE: Final = 1_000
#: Of so many blends one is the plant's own, the rest belong to customers.
_OWN_BOOK: Final = 20
#: Of so many recipes one nobody has reviewed.
_NOT_REVIEWED: Final = 20


def add_blends(
    size: PlantSize,
    kinds: Sequence[Kind],
    families: Sequence[Catalogue],
    places: Sequence[ShipTo],
    rep: User,
) -> list[SavedRecipe]:
    """As many blends as the size asks for; kind and family of stocks go round."""
    found: list[SavedRecipe] = []
    for start in range(0, size.blends, AT_ONCE):
        found += _some(
            range(start, min(size.blends, start + AT_ONCE)), kinds, families, places, rep
        )
    return found


def _some(
    numbers: range,
    kinds: Sequence[Kind],
    families: Sequence[Catalogue],
    places: Sequence[ShipTo],
    rep: User,
) -> list[SavedRecipe]:
    blends, revisions, recipes = [], [], []
    for number in numbers:
        kind, family = kinds[number % len(kinds)], number // len(kinds) % len(families)
        shares = {family_code(code, family): pct for code, pct in kind.varied_pct(number).items()}
        wish = {
            "recipe": [{"code": code, "pct": pct} for code, pct in shares.items()],
            "fill": {"volume_gal": 265},
        }
        solution = formulate(wish, catalogue=families[family]).solution
        if solution is None:
            raise RuntimeError(f"Recipe {number} of the large plant cannot be mixed.")
        company = None if number % _OWN_BOOK == 0 else places[number % len(places)].company
        blend = Blend(
            name=f"{kind.revision.blend.name}, variant {number:05d}",
            company=company,
            created_by=rep,
        )
        asked = Wish.from_json(wish)
        revision = BlendRevision(
            blend=blend,
            number=1,
            wish=asked.to_json(),
            answer=solution.answer.to_json(),
            grade=promised_grade(asked, solution.blend.analysis),
            slow_release_pct=solution.answer.slow_release_pct,
            density_lb_per_gal=solution.blend.density_lb_per_gal,
            note="Demo data.",
            created_by=rep,
        )
        blends.append(blend)
        revisions.append(revision)
        recipes.append((kind, company, solution))
    Blend.objects.bulk_create(blends)
    BlendRevision.objects.bulk_create(revisions)
    RevisionLine.objects.bulk_create(
        RevisionLine(
            revision=revision,
            stock_id=solution.catalogue.stock_ids[share.code],
            pct=share.pct,
        )
        for revision, (_, _, solution) in zip(revisions, recipes, strict=True)
        for share in solution.blend.shares
    )
    RecipeReview.objects.bulk_create(
        RecipeReview(revision=revision, who="Demo data", note="Demo review, invented.")
        for number, revision in zip(numbers, revisions, strict=True)
        if number % _NOT_REVIEWED != 1
    )
    # What holds less than its pattern promised gets its label lines when it is planned.
    LabelPromise.objects.bulk_create(
        LabelPromise(revision=revision, lines=kind.promise.promised.to_json(), by=rep, who=str(rep))
        for revision, (kind, _, _) in zip(revisions, recipes, strict=True)
        if kind.has_water
    )
    return [
        SavedRecipe(
            kind=kind,
            revision_id=revision.pk,
            company_id=company.pk if company else None,
            name=revision.blend.name,
            grade=revision.grade,
            density_lb_per_gal=revision.density_lb_per_gal,
            solved=solution.answer,
        )
        for revision, (kind, company, solution) in zip(revisions, recipes, strict=True)
    ]


def of_family(catalogue: Catalogue, family: int) -> Catalogue:
    """The part of the catalogue that one family of copies makes up."""
    mine = tuple(
        stock
        for stock in catalogue.stocks
        if stock.code.partition("-")[2] == (str(family) if family else "")
    )
    return replace(catalogue, stocks=mine, left_out={})
