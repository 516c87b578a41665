"""What a customer has to know of a blend before it is sprayed, mixed or stored.

The plant's own doubts about a recipe (estimates, a jar that is not tested, its stock-keeping) are
no cautions of a customer's and stay inside.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, gettext_noop

from blendshop.figures.readers import reader
from formulas.engine.mark import Mark
from formulas.engine.result import Severity
from formulas.engine.storage.cold_storage import ColdVerdict
from formulas.jar_tests.storage import USUAL_STORAGE_F, storage_check
from formulas.models import BlendRevision, CompatibilityRule
from formulas.wording.contents import source_words, trait_word
from orders.papers import standing_texts
from orders.papers.standing_texts import StandingText
from orders.papers.view_models import PaperFinding
from orders.verdict.strip import StripResult, Subject

#: Temperatures a store is kept above in the trade (common practice, no source); the first at which
#: no single salt of the blend may salt out is the one to say.
STORES_F: Final = (USUAL_STORAGE_F, 40.0, 50.0, 60.0)
JAR_FIRST: Final = StandingText(
    gettext_noop(
        "Before you mix it with anything else, try it in a jar with your own water, in the order"
        " of your tank; do not spray what thickens, settles or separates."
    ),
    Mark.COMMON_PRACTICE,
)

_STOP_WORDS: Final[Mapping[Subject, Promise]] = {
    Subject.MIX: gettext_lazy("Do not use it before you have spoken with us."),
    Subject.BURN: gettext_lazy(
        "Sprayed so it is likely to burn the grass: use more water or a lower rate, and ask us."
    ),
    Subject.COLD: gettext_lazy("Do not store it so; ask us."),
    Subject.LAW: gettext_lazy("Do not apply it there so; ask us what is allowed."),
    Subject.STOCK: gettext_lazy("Ask us when it can be made."),
    Subject.TESTED: gettext_lazy("Do not use it before you have spoken with us."),
}


def blend_cautions(revision: BlendRevision) -> tuple[str, ...]:
    """Of this blend: what not to mix it with, and above which temperature it is kept."""
    return (*_not_with(revision), *_storage(revision))


def standing_cautions(revisions: list[BlendRevision]) -> tuple[PaperFinding, ...]:
    """Of every lawn product, and what the contents of these call for, each with its source."""
    jar_first = StandingText(_(JAR_FIRST.text), source_words(JAR_FIRST.source))
    told = [
        text
        for revision in revisions
        for text in (*standing_texts.told_to_customers(revision.analysis), jar_first)
    ]
    return tuple(
        PaperFinding(Severity.CAUTION, text.text, text.source) for text in dict.fromkeys(told)
    )


def customer_stops(stops: Iterable[StripResult]) -> tuple[str, ...]:
    """What stops a line, and what its customer is to do about it."""
    return tuple(f"{stop.title}: {stop.sentence} {_STOP_WORDS[stop.subject]}" for stop in stops)


def _not_with(revision: BlendRevision) -> Iterator[str]:
    """By the plant's own table of what must not meet, each row of which names its source."""
    lines = revision.lines.select_related("stock").prefetch_related("stock__traits")
    held = {trait.pk for line in lines for trait in line.stock.traits.all()}
    others: dict[str, None] = {}
    rules = CompatibilityRule.objects.filter(active=True, effect=CompatibilityRule.Effect.BLOCKS)
    for rule in rules.select_related("trait_a", "trait_b"):
        for ours, other in ((rule.trait_a, rule.trait_b), (rule.trait_b, rule.trait_a)):
            if ours.pk in held and other.pk not in held:
                others[trait_word(other.name)] = None
    if others:
        yield _(
            "Do not mix it with products that hold any of these: {others}. Solids, sludge or gas"
            " may form."
        ).format(others=", ".join(sorted(name.lower() for name in others)))


def _storage(revision: BlendRevision) -> Iterator[str]:
    """Nothing where freezing is all there is to say: the standing cautions say it."""
    recipe = {line.stock.code: line.pct for line in revision.lines.select_related("stock")}
    for store_f in STORES_F:
        salts = storage_check(recipe, storage_f=store_f).cold.salts
        if all(salt.verdict is not ColdVerdict.MAY_SALT_OUT for salt in salts):
            break
    if store_f > USUAL_STORAGE_F:
        yield _(
            "Store it above {degrees}: when it is colder, salt may settle out. Should that happen,"
            " warm and stir it until it is clear before you spray it."
        ).format(degrees=reader().temperature(store_f))
