"""From what is typed to the wish of the contract, and from its paths back to the fields."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from typing import Any, Final

from django.utils.translation import gettext as _

from formulas.answers.wish import (
    CHEAPEST,
    CostPerGal,
    Fill,
    FixedShare,
    Objective,
    Range,
    StockLimit,
    Target,
    Wish,
)
from formulas.engine.problem import Per
from formulas.engine.wishes import SLOW_RELEASE, Side
from orders.blend_page import fields as f
from orders.blend_page.legal import Legal, LegalLimit, tightened
from orders.blend_page.spreads import margin_of
from orders.blend_page.wish_form import WishForm
from orders.blend_page.wish_place import Origin, Unit, WishPlace
from orders.blend_page.wording import subject_words
from orders.inventory.on_hand import OnHand, with_on_hand
from orders.models import Package

#: Shares typed with a few decimals may miss 100 by this much.
_WHOLE_WITHIN_PCT: Final = 1e-6
#: Fields that the contract's other paths belong to.
_FIELDS: Final[Mapping[str, str]] = {
    "exclude": "exclude",
    "smallest_charge_pct": "smallest_charge",
    "most_stocks": "most_stocks",
    "objective": "strongest",
    "objective.cheapest_per": "cheapest_per",
    "fill": "quantity",
    "recipe": f.recipe_field("pct", 0),
    "slow_release_pct": "slow_min",
    "margin": "margin_chance",
    "cost_per_gal": f.MATERIAL_MAX,
}
#: The path of what the material of a gallon may cost.
CEILING_PATH: Final = "cost_per_gal.max"


@dataclass(frozen=True, slots=True)
class PageWish:
    """The wish and the way back from its paths to the page.

    ``places`` holds each figure by its path ("targets.0.min"), ``fields`` the fields that refused
    paths ("targets.0") belong to. ``is_empty`` while nothing is asked yet.
    """

    wish: Wish
    places: Mapping[str, WishPlace]
    fields: Mapping[str, str]
    is_empty: bool

    @property
    def asks_above_zero(self) -> bool:
        """Whether anything has to be in it: a share, a strength, or a minimum above zero."""
        wish, slow = self.wish, self.wish.slow_release_pct
        least = [target.min for target in wish.targets]
        least += [limit.min_pct for limit in wish.stock_limits]
        least += [slow.min if slow else None]
        aim = wish.objective
        is_strongest = isinstance(aim, Objective) and aim.strongest is not None
        return is_strongest or bool(wish.recipe) or any((pct or 0) > 0 for pct in least)

    def field_of(self, path: str) -> str | None:
        """The field a refused path of the contract belongs to."""
        parts = path.split(".")
        for length in range(len(parts), 0, -1):
            field = self.fields.get(".".join(parts[:length]))
            if field is not None:
                return field
        return None

    def place_of(self, path: str | None) -> WishPlace | None:
        """The figure at a path; None for limits that the wish does not hold."""
        return None if path is None else self.places.get(path)


def wish_of(form: WishForm, legal: Legal | None = None, on_hand: OnHand | None = None) -> PageWish:
    """What a valid form asks, with the law's and the tanks' limits beside its own."""
    cleaned = form.cleaned_data
    by_recipe = cleaned["mode"] == f.BY_RECIPE
    reader = _Reader(form)
    # Shares that are typed are what is asked; only what is solved is limited.
    limits, exclude = reader.stock_limits(None if by_recipe else on_hand)
    law = legal.limits if legal is not None else ()
    recipe = reader.recipe() if by_recipe else ()
    is_strongest = cleaned["mode"] == f.STRONGEST
    is_empty = not recipe if by_recipe else not (reader.asks_for_contents or is_strongest)
    is_whole = by_recipe and abs(sum(line.pct for line in recipe) - 100) <= _WHOLE_WITHIN_PCT
    objective: str | Objective | None = None
    if is_strongest:
        objective = Objective(strongest=cleaned["strongest"])
    elif not is_whole:
        per = Per(cleaned["cheapest_per"])
        objective = CHEAPEST if per is Per.LB else Objective(cheapest_per=per)
    wish = Wish(
        targets=reader.targets(law),
        slow_release_pct=reader.slow_release(law),
        stock_limits=limits,
        recipe=recipe,
        exclude=exclude,
        smallest_charge_pct=cleaned["smallest_charge"] or None,
        most_stocks=reader.most_stocks(),
        cost_per_gal=None if is_whole else reader.material_cost(),
        objective=objective,
        fill=Fill(volume_gal=volume_gal(form.options.package(cleaned["package"]), cleaned)),
        margin=margin_of(cleaned["margin_chance"] / 100) if cleaned["margin"] else None,
    )
    fields = {**reader.fields, **_FIELDS}
    return PageWish(wish, reader.places, fields, is_empty)


def volume_gal(package: Package | None, cleaned: Mapping[str, Any]) -> float:
    """Gallons of the order: packages at their nominal fill, or the gallons of a bulk order."""
    quantity: int = cleaned["quantity"]
    if package is None or package.is_bulk:
        return float(quantity)
    return float(quantity * package.fill_gal)


class _Reader:
    """Reads the rows, noting under which path each field will come back."""

    def __init__(self, form: WishForm) -> None:
        self.cleaned = form.cleaned_data
        self.form = form
        self.stock_names = {stock.code: stock.name for stock in form.options.catalogue.stocks}
        self.places: dict[str, WishPlace] = {}
        self.fields: dict[str, str] = {}

    @property
    def asks_for_contents(self) -> bool:
        """Whether any content or the slow-release share was typed."""
        return any(self._typed(self._sides(key)) for key in (*self.form.rows, SLOW_RELEASE))

    def targets(self, law: Sequence[LegalLimit]) -> tuple[Target, ...]:
        """The typed contents, then those that only the law asks for."""
        typed = {key: self._typed(self._sides(key)) for key in self.form.rows}
        wished = {key: found for key, found in typed.items() if found is not None}
        wished |= _by_law(wished, [limit for limit in law if limit.key != SLOW_RELEASE])
        for index, (key, asked) in enumerate(wished.items()):
            own = typed.get(key)
            path = f"targets.{index}"
            self.fields[path] = "legal" if own is None else self._first_field(key, own)
            self._note_sides(path, key, asked, own, Unit.PCT)
        return tuple(Target(key, asked.min, asked.max) for key, asked in wished.items())

    def slow_release(self, law: Sequence[LegalLimit]) -> Range | None:
        """The slow-release share, as typed and by law."""
        own = self._typed(self._sides(SLOW_RELEASE))
        wished = {} if own is None else {SLOW_RELEASE: own}
        asked = (wished | _by_law(wished, [each for each in law if each.key == SLOW_RELEASE])).get(
            SLOW_RELEASE
        )
        if asked is not None:
            self._note_sides("slow_release_pct", SLOW_RELEASE, asked, own, Unit.PCT_OF_N)
        return asked

    def stock_limits(
        self, on_hand: OnHand | None
    ) -> tuple[tuple[StockLimit, ...], tuple[str, ...]]:
        """The limits and exclusions, typed and by what is in the tanks."""
        rows = list(self._limit_rows())
        limits, exclude = [limit for _, limit in rows], list(self.cleaned["exclude"])
        if on_hand is not None:
            rows = [(row, limit) for row, limit in rows if limit.code not in on_hand.absent]
            limits, exclude = with_on_hand(on_hand, limits, exclude)
        for index, (limit, typed) in enumerate(zip_longest(limits, rows)):
            self._note_limit(f"stock_limits.{index}", limit, typed)
        return tuple(limits), tuple(exclude)

    def most_stocks(self) -> int | None:
        """The largest number of stocks."""
        most: int | None = self.cleaned["most_stocks"]
        if most is not None:
            self.places["most_stocks"] = WishPlace(
                "", "number of stocks", Side.MOST, most, Unit.STOCKS, field="most_stocks"
            )
        return most

    def material_cost(self) -> CostPerGal | None:
        """What the material of a gallon may cost."""
        most: float | None = self.cleaned.get(f.MATERIAL_MAX)
        if most is None:
            return None
        self.places[CEILING_PATH] = WishPlace(
            "material", _("material a gallon"), Side.MOST, most, Unit.COST, field=f.MATERIAL_MAX
        )
        return CostPerGal(most)

    def recipe(self) -> tuple[FixedShare, ...]:
        """The shares that stay as they are."""
        found: list[FixedShare] = []
        for row in range(self.form.recipe_rows):
            field = f.recipe_field("pct", row)
            code, pct = self.cleaned[f.recipe_field("code", row)], self.cleaned[field]
            if not code or pct is None:
                continue
            path = f"recipe.{len(found)}"
            self.fields[path] = field
            self.places[f"{path}.pct"] = WishPlace(
                code, self.stock_names[code], None, pct, Unit.PCT, field=field
            )
            found.append(FixedShare(code, pct))
        return tuple(found)

    def _limit_rows(self) -> Iterator[tuple[int, StockLimit]]:
        for row in range(self.form.limit_rows):
            code = self.cleaned[f.limit_field("code", row)]
            asked = self._typed({side: f.limit_field(side.value, row) for side in Side})
            if code and asked is not None:
                yield row, StockLimit(code, asked.min, asked.max)

    def _note_limit(
        self, path: str, limit: StockLimit, typed: tuple[int, StockLimit] | None
    ) -> None:
        name = self.stock_names[limit.code]
        if typed is not None:
            self.fields[path] = f.limit_field("code", typed[0])
        for side in Side:
            asked = limit.min_pct if side is Side.LEAST else limit.max_pct
            if asked is None:
                continue
            own = None if typed is None else typed[1]
            as_typed = own is not None and asked == (
                own.min_pct if side is Side.LEAST else own.max_pct
            )
            field = f.limit_field(side.value, typed[0]) if typed and as_typed else ""
            origin = Origin.TYPED if as_typed else Origin.ON_HAND
            self.places[f"{path}.{side.value}_pct"] = WishPlace(
                limit.code, name, side, asked, Unit.PCT, origin, field
            )

    def _note_sides(self, path: str, key: str, asked: Range, own: Range | None, unit: Unit) -> None:
        subject, fields = subject_words(key), self._sides(key)
        for side in Side:
            figure = _on(asked, side)
            if figure is None:
                continue
            as_typed = own is not None and _on(own, side) == figure
            self.places[f"{path}.{side.value}"] = WishPlace(
                key,
                subject,
                side,
                figure,
                unit,
                Origin.TYPED if as_typed else Origin.LAW,
                fields[side] if as_typed else "",
            )

    def _sides(self, key: str) -> dict[Side, str]:
        if key == SLOW_RELEASE:
            return {side: f"slow_{side.value}" for side in Side}
        return {side: f.wish_field(key, side.value) for side in Side}

    def _first_field(self, key: str, own: Range) -> str:
        return self._sides(key)[Side.MOST if own.min is None else Side.LEAST]

    def _typed(self, fields: Mapping[Side, str]) -> Range | None:
        low, high = (self.cleaned[fields[side]] for side in Side)
        return None if low is None and high is None else Range(low, high)


def _on(asked: Range, side: Side) -> float | None:
    return asked.min if side is Side.LEAST else asked.max


def _by_law(wished: Mapping[str, Range], limits: Sequence[LegalLimit]) -> dict[str, Range]:
    """The wishes that the law speaks of, tightened to it."""
    found: dict[str, Range] = {}
    for limit in limits:
        found[limit.key] = tightened(
            found.get(limit.key) or wished.get(limit.key) or Range(), limit
        )
    return found
