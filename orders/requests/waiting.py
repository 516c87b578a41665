"""What waits for a rep or a formulator: requests, recipes under orders, questions, addresses."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from django.db.models import BigIntegerField, Count, F, OuterRef, Q, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce
from django.utils.translation import ngettext

from blendshop.accounts.models import User
from blendshop.roles import has_role
from formulas.answers.answer import Notice, RecipeLine
from formulas.blends.reviews import (
    REVIEWERS,
    new_cautions,
    new_stocks,
    not_reviewed,
    without_review,
)
from formulas.models import BlendRevision, RecipeReview
from formulas.reference.rule_packs import rule_packs
from orders.models import (
    CustomerQuestion,
    FreightZone,
    Order,
    OrderEvent,
    OrderLine,
    PlannedRecipe,
    ShipTo,
)
from orders.models.order import OrderQuerySet
from orders.ordering.limits import above_limits
from orders.ordering.own_orders import open_questions
from orders.requests.actions import DECIDERS, LIFTS_LIMITS

#: Of the recipes under orders, of questions and of addresses.
MOST_SHOWN: Final = 20


@dataclass(frozen=True, slots=True)
class RecipeToReview:
    """A recipe nobody has reviewed, with its cautions and what is new against the last reviewed.

    ``since`` is the newest reviewed revision of its blend, None where there is none.
    """

    revision: BlendRevision
    cautions: tuple[Notice, ...]
    recipe: tuple[RecipeLine, ...]
    since: BlendRevision | None
    new_stocks: tuple[str, ...]
    new_cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WaitingRequest:
    """A request with what has to be looked at; ``above`` are limits it is above as of now."""

    order: Order
    lines: tuple[OrderLine, ...]
    to_review: tuple[RecipeToReview, ...]
    above: tuple[str, ...]

    @property
    def pk(self) -> int:
        """The order's, by which a page of a list is put in order."""
        key: int = self.order.pk
        return key

    @property
    def seen_event(self) -> int:
        """The newest event of the order, by which a change after the look is found."""
        newest: int = max(event.pk for event in self.order.events.all())
        return newest

    @property
    def review_keys(self) -> str:
        """Keys of the recipes that are shown, for the form that reviews them all."""
        return ",".join(str(recipe.revision.pk) for recipe in self.to_review)


@dataclass(frozen=True, slots=True)
class OrderedUnreviewed:
    """A recipe under orders that came from quotes, before anything of it is made."""

    recipe: RecipeToReview
    orders: tuple[Order, ...]


def requests() -> OrderQuerySet:
    """All requests, the oldest first."""
    return Order.objects.filter(status=Order.Status.REQUESTED).order_by("created_at", "pk")


def with_what_to_look_at(orders: OrderQuerySet) -> tuple[WaitingRequest, ...]:
    """The requests of a page, each with its recipes to review and the limits it is above."""
    found = list(
        orders.select_related("company", "ship_to", "placed_by").prefetch_related(
            "lines__revision__blend", "lines__package", "events"
        )
    )
    revisions = [line.revision for order in found for line in order.lines.all()]
    unseen = not_reviewed(revisions)
    since = _last_reviewed(unseen)
    to_review = {each.pk: _recipe(each, since.get(each.pk)) for each in unseen}
    return tuple(_waiting(order, to_review) for order in found)


@dataclass(frozen=True, slots=True)
class WaitingPlace:
    """An address a customer named; ``has_rules`` where rules of its state are on file.

    ``near`` is the zone of the customer's own place in that state, or the only one in it that is
    delivered to; None where there is none, and somebody has to choose.
    """

    ship_to: ShipTo
    has_rules: bool
    near: FreightZone | None


def ordered_unreviewed() -> tuple[OrderedUnreviewed, ...]:
    """Recipes of open orders that nobody has reviewed, the earliest due first, at most MOST_SHOWN.

    Their quotes were accepted: an offer of the plant stands, and its recipe is still looked at.
    """
    lines = _lines_to_make()
    due = lines.filter(made_by=OuterRef("pk")).order_by("order__due_on")
    recipes = _unreviewed_under(lines).annotate(due_on=Subquery(due.values("order__due_on")[:1]))
    shown = list(recipes.select_related("blend__company").order_by("due_on", "pk")[:MOST_SHOWN])
    orders: dict[int, dict[int, Order]] = {revision.pk: {} for revision in shown}
    of_shown = lines.filter(made_by__in=list(orders)).select_related("order__company")
    for line in of_shown.order_by("order__due_on", "pk"):
        orders[line.made_by][line.order_id] = line.order
    since = _last_reviewed(shown)
    return tuple(
        OrderedUnreviewed(_recipe(each, since.get(each.pk)), tuple(orders[each.pk].values()))
        for each in shown
    )


def questions() -> list[OrderEvent]:
    """Questions of customers about their orders that nobody has answered."""
    return list(open_questions())


def customer_questions() -> list[CustomerQuestion]:
    """Questions about no order that nobody has answered, the oldest first."""
    asked = CustomerQuestion.objects.waiting().select_related("company", "asked_by")
    return list(asked[:MOST_SHOWN])


def waiting_places() -> tuple[WaitingPlace, ...]:
    """Addresses customers named, which nothing is ordered to before their freight is set."""
    with_rules = {pack.state for pack in rule_packs()}
    waiting = ShipTo.objects.waiting().select_related("company", "named_by")
    places = list(waiting[:MOST_SHOWN])
    there = ShipTo.objects.filter(active=True, zone__pick_up=False).order_by("pk")
    there = there.filter(state__in={place.state for place in places})
    own = there.filter(company__in={place.company_id for place in places})
    of_company = {(known.state, known.company_id): known.zone_id for known in own}
    of_state: dict[str, set[int]] = defaultdict(set)
    for state, zone in there.order_by().values_list("state", "zone").distinct():
        of_state[state].add(zone)
    zones = FreightZone.objects.in_bulk()

    def near(place: ShipTo) -> FreightZone | None:
        known = of_company.get((place.state, place.company_id))
        only = of_state[place.state]
        found = known or (next(iter(only)) if len(only) == 1 else 0)
        return zones.get(found)

    return tuple(WaitingPlace(place, place.state in with_rules, near(place)) for place in places)


def freight_zones() -> list[FreightZone]:
    """What an address is confirmed into."""
    return list(FreightZone.objects.all())


def count_waiting(user: User) -> tuple[str, ...]:
    """How many of each kind wait for the user, in words; empty for who does not decide them."""
    if not has_role(user, *DECIDERS):
        return ()
    kinds: dict[str, QuerySet[Any]] = {"request": requests()}
    if has_role(user, *LIFTS_LIMITS):
        kinds["of an order"] = open_questions()
        kinds["question"] = CustomerQuestion.objects.waiting()
        kinds["address"] = ShipTo.objects.waiting()
    if has_role(user, *REVIEWERS):
        kinds["recipe"] = _unreviewed_under(_lines_to_make())
    found = _counted(kinds)
    asked, questions = found["request"], found["of an order"] + found["question"]
    places, recipes = found["address"], found["recipe"]
    counted = {
        ngettext("{count} request", "{count} requests", asked): asked,
        ngettext("{count} question", "{count} questions", questions): questions,
        ngettext("{count} new address", "{count} new addresses", places): places,
        ngettext(
            "{count} recipe on order not reviewed", "{count} recipes on order not reviewed", recipes
        ): recipes,
    }
    return tuple(words.format(count=count) for words, count in counted.items() if count)


def _counted(kinds: Mapping[str, QuerySet[Any]]) -> Counter[str]:
    """In one query, because it stands on every list."""
    first, *others = (
        rows.order_by().annotate(kind=Value(kind)).values("kind").annotate(count=Count("pk"))
        for kind, rows in kinds.items()
    )
    rows = first.union(*others, all=True) if others else first
    return Counter(dict(rows.values_list("kind", "count")))


def _lines_to_make() -> QuerySet[Any]:
    """Of orders before anything of them is made, each with the revision it is ``made_by``."""
    here = (Order.Status.OPEN, Order.Status.PLANNED)
    planned = PlannedRecipe.objects.filter(order_line=OuterRef("pk")).order_by("-pk")
    return OrderLine.objects.filter(order__status__in=here).annotate(
        made_by=Coalesce(
            Subquery(planned.values("revision")[:1]), F("revision"), output_field=BigIntegerField()
        )
    )


def _unreviewed_under(lines: QuerySet[Any]) -> QuerySet[BlendRevision]:
    return without_review(BlendRevision.objects.filter(pk__in=lines.values("made_by")))


def _waiting(order: Order, to_review: Mapping[int, RecipeToReview]) -> WaitingRequest:
    lines = tuple(order.lines.all())
    keys = dict.fromkeys(line.revision_id for line in lines)
    return WaitingRequest(
        order=order,
        lines=lines,
        to_review=tuple(to_review[key] for key in keys if key in to_review),
        above=above_limits(
            order.company, gallons=sum(line.volume_gal for line in lines), total=order.total
        ),
    )


def _recipe(revision: BlendRevision, since: BlendRevision | None) -> RecipeToReview:
    answer = revision.solved.without_costs()
    return RecipeToReview(
        revision=revision,
        cautions=answer.alerts,
        recipe=answer.recipe,
        since=since,
        new_stocks=new_stocks(since, answer) if since else (),
        new_cautions=new_cautions(since, answer) if since else (),
    )


def _last_reviewed(revisions: Sequence[BlendRevision]) -> dict[int, BlendRevision]:
    """By revision the newest other one of its blend, or of the blend's namesake in the plant's
    book, that stands reviewed; where there is one. The same queries for many as for one."""
    blends = {each.blend_id: each.blend for each in revisions}
    same = Q(revision__blend__in=blends) | Q(
        revision__blend__company=None,
        revision__blend__name__in={blend.name for blend in blends.values()},
    )
    words = RecipeReview.objects.filter(same).select_related("revision__blend").order_by("-pk")
    reviewed = {row.revision_id: row.revision for row in words}
    for each in not_reviewed(reviewed.values()):
        del reviewed[each.pk]
    found = {}
    for each in revisions:
        near = (one for one in reviewed.values() if one.pk != each.pk and _is_near(one, each))
        if (newest := next(near, None)) is not None:
            found[each.pk] = newest
    return found


def _is_near(one: BlendRevision, revision: BlendRevision) -> bool:
    if one.blend_id == revision.blend_id:
        return True
    return one.blend.company_id is None and one.blend.name == revision.blend.name
