"""Saving blends: a name, and under it immutable revisions that the server itself has solved."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from blendshop.accounts.models import Company, User
from blendshop.errors import BadInput, ChangedMeanwhile, IllegalMove, NotAllowed
from blendshop.roles import BLENDS, Role, has_role, require_role
from blendshop.saving import save_valid
from formulas.answers.promised_grade import promised_grade
from formulas.answers.wish import Wish
from formulas.blends.changed_recipe import other_recipe
from formulas.blends.reviews import REVIEWERS, is_covered, is_reviewed, newest_words
from formulas.contracts.formulation import Solution, formulate
from formulas.engine_bridge import Catalogue, load_catalogue
from formulas.models import Blend, BlendRevision, DraftWish, RecipeReview, RevisionLine

#: What a saved blend may not bring along: it is made of the plant's stocks under its rules.
_NOT_SAVED = ("stocks", "rules")
_LONGEST_REVIEW_NOTE = 400


def save_blend(
    *,
    acting_user: User,
    name: str,
    company: Company | None,
    wish: Mapping[str, Any],
    today: date,
    blend: Blend | None = None,
    based_on: int | None = None,
    note: str = "",
    catalogue: Catalogue | None = None,
    once_key: str = "",
) -> BlendRevision:
    """Solve a wish on today's catalogue and save it: a new blend, or its next revision.

    With ``blend`` the revision is added to it, its name and company stay. ``based_on`` is the
    revision number the person had in view; ChangedMeanwhile if there is a newer one. A customer
    saves for its own company only; nobody saves what is out of reach or must not be mixed.
    ``catalogue`` spares the look-up of a caller that has it at hand. Asked again under the same
    ``once_key`` it is the revision there is.
    """
    require_role(acting_user, *BLENDS)
    _check_company(acting_user, blend.company if blend else company)
    if made := _saved_before(once_key):
        return made
    solution = _solved(wish, catalogue or load_catalogue(today))
    try:
        with transaction.atomic():
            if blend is None:
                new = Blend(name=name.strip(), company=company, created_by=acting_user)
                blend, number = save_valid(new, acting_user), 1
            else:
                number = _next_number(blend, based_on)
            return _add_revision(
                blend,
                number,
                Wish.from_json(wish),
                solution,
                note,
                acting_user,
                once_key=once_key or None,
            )
    except (BadInput, ChangedMeanwhile, IntegrityError):
        if made := _saved_before(once_key):
            return made  # the same press, twice at once
        raise


def _saved_before(once_key: str) -> BlendRevision | None:
    return BlendRevision.objects.filter(once_key=once_key).first() if once_key else None


def save_recipe_for_order(
    *,
    acting_user: User,
    revision: BlendRevision,
    shares: Mapping[str, float],
    catalogue: Catalogue,
    note: str,
) -> BlendRevision:
    """Another recipe for one order or quote: a new revision with the same wish and grade.

    ``shares`` is percent by weight by stock code. BadInput unless it keeps the whole wish and
    the grade. It never becomes the blend's newest (``for_order_only``). Without another stock
    or caution it is as reviewed as ``revision``.
    """
    require_role(acting_user, Role.REP, Role.FORMULATOR, Role.OFFICE)
    solution = other_recipe(revision, shares, catalogue)
    with transaction.atomic():
        other = _add_revision(
            revision.blend,
            _next_number(revision.blend, None),
            revision.wished,
            solution,
            note,
            acting_user,
            for_order_only=True,
        )
        carry_review(base=revision, revision=other)
        return other


def rename_blend(*, acting_user: User, blend: Blend, name: str) -> Blend:
    """Give a blend another name; its revisions stay."""
    require_role(acting_user, *BLENDS)
    _check_company(acting_user, blend.company)
    with transaction.atomic():
        current = _locked(blend)
        current.name = name.strip()
        return save_valid(current, acting_user, update_fields=["name"])


def archive_blend(*, acting_user: User, blend: Blend, archived: bool) -> Blend:
    """Take a blend out of the lists, or bring it back; saying it twice changes nothing."""
    require_role(acting_user, *BLENDS)
    _check_company(acting_user, blend.company)
    with transaction.atomic():
        current = _locked(blend)
        if current.archived == archived:
            return current
        current.archived = archived
        return save_valid(current, acting_user, update_fields=["archived"])


def review_recipe(*, acting_user: User, revision: BlendRevision, note: str = "") -> RecipeReview:
    """A formulator has looked at the recipe and its cautions. Said twice it is said once."""
    require_role(acting_user, *REVIEWERS)
    with transaction.atomic():
        # Two at once: the second waits here and finds the first one's word.
        BlendRevision.objects.select_for_update().get(pk=revision.pk)
        standing = newest_words([revision]).get(revision.pk)
        if standing is not None and standing.stands:
            return standing
        return RecipeReview.objects.create(
            revision=revision,
            by=acting_user,
            who=str(acting_user),
            note=note.strip()[:_LONGEST_REVIEW_NOTE],
        )


def take_back_review(*, acting_user: User, revision: BlendRevision, note: str) -> RecipeReview:
    """The next order of the recipe waits again; what is ordered already is the plant's to stop."""
    require_role(acting_user, *REVIEWERS)
    if not note.strip():
        message = _("Say why the review no longer stands.")
        raise BadInput(message, fields={"note": message})
    with transaction.atomic():
        BlendRevision.objects.select_for_update().get(pk=revision.pk)
        if not is_reviewed(revision):
            raise IllegalMove(
                _("{revision} is not reviewed; there is nothing to take back.").format(
                    revision=revision
                )
            )
        return RecipeReview.objects.create(
            revision=revision,
            by=acting_user,
            who=str(acting_user),
            note=note.strip()[:_LONGEST_REVIEW_NOTE],
            stands=False,
        )


def carry_review(*, base: BlendRevision, revision: BlendRevision) -> None:
    """The recipe solved again is as reviewed as ``base``: no other stock, no other caution.

    Part of saving it and inside its transaction, so no permission of its own.
    """
    word = newest_words([base]).get(base.pk)
    if word is None or not word.stands or not is_covered(base, revision.solved):
        return
    RecipeReview.objects.create(
        revision=revision,
        by=word.by,
        who=word.who,
        note=f"Carried over from revision {base.number}: no other stock and no other caution.",
        carried_from=base,
    )


def save_draft_wish(
    *,
    acting_user: User,
    name: str,
    company: Company | None,
    wish: Mapping[str, Any],
    today: date,
    note: str = "",
    catalogue: Catalogue | None = None,
) -> DraftWish:
    """Keep a wish that cannot be made today; it must still be a readable wish."""
    require_role(acting_user, *BLENDS)
    _check_company(acting_user, company)
    _refuse_foreign(wish)
    formulate(wish, catalogue=catalogue or load_catalogue(today))
    with transaction.atomic():
        draft = DraftWish(
            name=name.strip(),
            company=company,
            wish=Wish.from_json(wish).to_json(),
            note=note,
            created_by=acting_user,
        )
        return save_valid(draft, acting_user)


def _solved(wish: Mapping[str, Any], catalogue: Catalogue) -> Solution:
    _refuse_foreign(wish)
    solution = formulate(wish, catalogue=catalogue).solution
    if solution is None:
        raise BadInput(_("This wish is out of reach; take one of the alternatives, then save."))
    if solution.answer.is_stopped:
        raise BadInput(
            _("This recipe must not be mixed. {why}").format(why=" ".join(solution.answer.stops))
        )
    return solution


def _refuse_foreign(wish: Mapping[str, Any]) -> None:
    foreign = [key for key in _NOT_SAVED if wish.get(key) is not None]
    if foreign:
        why = _("A saved blend is made of the plant's own stocks under its own rules.")
        raise BadInput(why, fields=dict.fromkeys(foreign, why))


def _check_company(acting_user: User, company: Company | None) -> None:
    if has_role(acting_user, Role.REP, Role.FORMULATOR, Role.OFFICE):
        return
    if company is None or company.pk != acting_user.company_id:
        raise NotAllowed(_("You can save blends for your own company only."))


def _next_number(blend: Blend, based_on: int | None) -> int:
    _locked(blend)
    own = blend.revisions.filter(for_order_only=False).order_by("-number")
    latest = own.values_list("number", flat=True).first() or 0
    if based_on is not None and latest != based_on:
        raise ChangedMeanwhile(
            _("Revision {latest} of this blend was saved meanwhile; look at it first.").format(
                latest=latest
            )
        )
    numbers = blend.revisions.order_by("-number").values_list("number", flat=True)
    return (numbers.first() or 0) + 1


def _locked(blend: Blend) -> Blend:
    return Blend.objects.select_for_update().get(pk=blend.pk)


def _add_revision(
    blend: Blend,
    number: int,
    wish: Wish,
    solution: Solution,
    note: str,
    acting_user: User,
    *,
    for_order_only: bool = False,
    once_key: str | None = None,
) -> BlendRevision:
    answer, made = solution.answer, solution.blend
    revision = save_valid(
        BlendRevision(
            blend=blend,
            number=number,
            wish=wish.to_json(),
            answer=answer.to_json(),
            grade=promised_grade(wish, made.analysis),
            slow_release_pct=answer.slow_release_pct,
            density_lb_per_gal=made.density_lb_per_gal,
            note=note.strip(),
            for_order_only=for_order_only,
            once_key=once_key,
            created_by=acting_user,
        ),
        acting_user,
    )
    ids = solution.catalogue.stock_ids
    RevisionLine.objects.bulk_create(
        RevisionLine(revision=revision, stock_id=ids[share.code], pct=share.pct)
        for share in made.shares
    )
    return revision
