"""From what is typed to the body of the formulation contract, and back from a saved wish."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from formulas.engine.composition import NAMES
from orders.blend_page import fields as f
from orders.blend_page.legal import SLOW, Legal, LegalLimit, tightened
from orders.blend_page.on_hand import OnHand, with_on_hand
from orders.blend_page.spreads import margin_of
from orders.blend_page.wish_form import WishForm
from orders.models import Package

#: Shares typed with a few decimals may miss 100 by this much.
_WHOLE_WITHIN_PCT: Final = 1e-6


@dataclass(frozen=True, slots=True)
class WishPlace:
    """Where a wish stands on the page, and how the page says it.

    ``words`` has no number: "total nitrogen at least"; ``unit`` follows the number. ``field`` is
    empty where the wish is not typed but comes from the law or a margin.
    """

    field: str
    words: str
    unit: str
    is_law: bool = False


@dataclass(frozen=True, slots=True)
class Question:
    """The body of the contract and the way back from its wishes and paths to the page.

    ``places`` maps the engine's names of wishes ("N at least 24") to fields, ``paths`` the
    contract's paths ("targets.0") likewise. ``is_empty`` while nothing is asked yet.
    """

    body: dict[str, Any]
    places: Mapping[str, WishPlace]
    paths: Mapping[str, str]
    is_empty: bool

    def field_of(self, path: str) -> str | None:
        """The field a refused path of the contract belongs to."""
        parts = path.split(".")
        for length in range(len(parts), 0, -1):
            field = self.paths.get(".".join(parts[:length]))
            if field is not None:
                return field
        return None


def question_of(
    form: WishForm, legal: Legal | None = None, on_hand: OnHand | None = None
) -> Question:
    """The question a valid form asks, with the law's and the tanks' limits beside its own."""
    cleaned = form.cleaned_data
    reader = _Reader(cleaned, {stock.code: stock.name for stock in form.desk.catalogue.stocks})
    targets = list(reader.targets(form.rows))
    slow = reader.slow_release()
    limits = list(reader.stock_limits(form.limit_rows))
    exclude = cleaned["exclude"]
    is_empty = not (targets or slow)
    by_recipe = cleaned["mode"] == f.BY_RECIPE
    # Shares that are typed are what is asked; only what is solved is bounded.
    if on_hand is not None and not by_recipe:
        limits, exclude = with_on_hand(on_hand, limits, exclude)
        reader.name_on_hand(on_hand)
    if legal is not None:
        targets, slow = reader.with_law(legal.limits, targets, slow)
    recipe = list(reader.recipe(form.recipe_rows)) if by_recipe else []
    body: dict[str, Any] = {}
    if targets:
        body["targets"] = targets
    if slow:
        body["slow_release_pct"] = slow
    if limits:
        body["stock_limits"] = limits
    body |= _ways_of_mixing(cleaned, exclude)
    if cleaned["mode"] == f.STRONGEST:
        body["objective"] = {"strongest": cleaned["strongest"]}
        is_empty = False
    if by_recipe:
        is_empty = not recipe
        whole = abs(sum(line["pct"] for line in recipe) - 100) <= _WHOLE_WITHIN_PCT
        if not whole:
            body.setdefault("objective", "cheapest")
        body["recipe"] = recipe
    body["fill"] = {"volume_gal": volume_gal(form.desk.package(cleaned["package"]), cleaned)}
    reader.paths |= {
        "exclude": "exclude",
        "smallest_charge_pct": "smallest_charge",
        "most_stocks": "most_stocks",
        "objective": "strongest",
        "fill": "quantity",
        "recipe": f.recipe_field("pct", 0),
        "slow_release_pct": "slow_min",
        "margin": "margin_chance",
    }
    return Question(body, reader.places, reader.paths, is_empty)


def _ways_of_mixing(cleaned: Mapping[str, Any], exclude: Sequence[str]) -> dict[str, Any]:
    """Wishes that are no contents: what is left out, charges, number of stocks, margin."""
    asked: dict[str, Any] = {
        "exclude": exclude or None,
        "smallest_charge_pct": cleaned["smallest_charge"] or None,
        "most_stocks": cleaned["most_stocks"],
        "margin": margin_of(cleaned["margin_chance"] / 100) if cleaned["margin"] else None,
    }
    return {key: value for key, value in asked.items() if value is not None}


def volume_gal(package: Package | None, cleaned: Mapping[str, Any]) -> float:
    """Gallons of the order: packages at their nominal fill, or the gallons of a bulk order."""
    quantity: int = cleaned["quantity"]
    if package is None or package.is_bulk:
        return float(quantity)
    return float(quantity * package.fill_gal)


class _Reader:
    """Reads the rows, noting under which name and path each field will come back."""

    def __init__(self, cleaned: Mapping[str, Any], stock_names: Mapping[str, str]) -> None:
        self.cleaned = cleaned
        self.stock_names = stock_names
        self.places: dict[str, WishPlace] = {}
        self.paths: dict[str, str] = {}
        most = cleaned["most_stocks"]
        if most is not None:
            name = f"at most {most} {'stock' if most == 1 else 'stocks'}"
            self.places[name] = WishPlace("most_stocks", "number of stocks at most", "")

    def name_on_hand(self, found: OnHand) -> None:
        """The engine's names of limits that only the tanks ask for."""
        for code, pct in found.limits.items():
            words = f"{self.stock_names[code]}, as much as is in the tanks, at most"
            place = WishPlace("", words, " %")
            self.places.setdefault(f"{code} at most {pct:.10g} %", place)

    def targets(self, rows: tuple[str, ...]) -> Iterator[dict[str, Any]]:
        for key in rows:
            fields = {side: f.wish_field(key, side) for side in ("min", "max")}
            wish = self._range(key, fields, NAMES[key].lower() if key != "N" else "total nitrogen")
            if wish:
                self.paths[f"targets.{sum(p.startswith('targets.') for p in self.paths)}"] = (
                    fields["min"] if "min" in wish else fields["max"]
                )
                yield {"nutrient": key, **wish}

    def slow_release(self) -> dict[str, float]:
        fields = {"min": "slow_min", "max": "slow_max"}
        return self._range("slow release", fields, "slow release", unit=" % of N")

    def with_law(
        self,
        limits: tuple[LegalLimit, ...],
        targets: list[dict[str, Any]],
        slow: dict[str, float],
    ) -> tuple[list[dict[str, Any]], dict[str, float]]:
        """Targets and slow-release share with the law's limits; a refusal lands on its tick."""
        found = list(targets)
        for limit in limits:
            if limit.key == SLOW:
                slow = tightened(slow, limit)
                self._name_law(limit, slow, "slow release", " % of N")
                continue
            index = next(
                (i for i, target in enumerate(found) if target["nutrient"] == limit.key), None
            )
            if index is None:
                index = len(found)
                found.append({"nutrient": limit.key})
                self.paths[f"targets.{index}"] = "legal"
            found[index] = tightened(found[index], limit)
            self._name_law(limit, found[index], NAMES[limit.key].lower(), " %")
        return found, slow

    def _name_law(self, limit: LegalLimit, wish: Mapping[str, Any], words: str, unit: str) -> None:
        """The engine's name of a limit that only the law asks for."""
        for side, bound in (("min", "at least"), ("max", "at most")):
            if side not in wish:
                continue
            suffix = unit if limit.key == SLOW else ""
            name = f"{limit.key} {bound} {wish[side]:.10g}{suffix}"
            self.places.setdefault(
                name, WishPlace("", f"{words} by law {bound}", unit, is_law=True)
            )

    def stock_limits(self, rows: int) -> Iterator[dict[str, Any]]:
        for row in range(rows):
            code = self.cleaned[f.limit_field("code", row)]
            fields = {side: f.limit_field(side, row) for side in ("min", "max")}
            if not code:
                continue
            limit = self._range(code, fields, self.stock_names[code], unit=" %")
            if limit:
                count = sum(path.startswith("stock_limits.") for path in self.paths)
                self.paths[f"stock_limits.{count}"] = f.limit_field("code", row)
                yield {"code": code, **{f"{side}_pct": value for side, value in limit.items()}}

    def recipe(self, rows: int) -> Iterator[dict[str, Any]]:
        for row in range(rows):
            code = self.cleaned[f.recipe_field("code", row)]
            pct = self.cleaned[f.recipe_field("pct", row)]
            if not code or pct is None:
                continue
            field = f.recipe_field("pct", row)
            for side in ("least", "most"):
                name = f"{code} at {side} {pct:.10g} %"
                words = f"{self.stock_names[code]} at {side}"
                self.places[name] = WishPlace(field, words, " %")
            count = sum(path.startswith("recipe.") for path in self.paths)
            self.paths[f"recipe.{count}"] = field
            yield {"code": code, "pct": pct}

    def _range(
        self, subject: str, fields: Mapping[str, str], words: str, *, unit: str = ""
    ) -> dict[str, float]:
        """The given sides of a wish; each side is known by the engine's name for it."""
        given = {side: self.cleaned[field] for side, field in fields.items()}
        for side, value in given.items():
            if value is not None:
                bound = "at least" if side == "min" else "at most"
                self.places[f"{subject} {bound} {value:.10g}{unit}"] = WishPlace(
                    fields[side], f"{words} {bound}", unit or " %"
                )
        return {side: value for side, value in given.items() if value is not None}


def fields_of(
    body: Mapping[str, Any], packages: tuple[Package, ...], default_package: Package | None
) -> dict[str, list[str]]:
    """The fields that ask a saved wish again (the contract's body)."""
    typed: dict[str, list[str]] = {}
    for target in body.get("targets", []):
        for side in ("min", "max"):
            _put(typed, f.wish_field(target["nutrient"], side), target.get(side))
    for side in ("min", "max"):
        _put(typed, f"slow_{side}", (body.get("slow_release_pct") or {}).get(side))
    for row, limit in enumerate(body.get("stock_limits", [])):
        typed[f.limit_field("code", row)] = [limit["code"]]
        for side in ("min", "max"):
            _put(typed, f.limit_field(side, row), limit.get(f"{side}_pct"))
        typed["limit_rows"] = [str(row + 1)]
    for row, line in enumerate(body.get("recipe") or []):
        typed["mode"] = [f.BY_RECIPE]
        typed[f.recipe_field("code", row)] = [line["code"]]
        _put(typed, f.recipe_field("pct", row), line["pct"])
        typed["recipe_rows"] = [str(row + 1)]
    if margin := body.get("margin"):
        typed["margin"] = ["on"]
        _put(typed, "margin_chance", 100 * margin["chance"])
    objective = body.get("objective")
    if isinstance(objective, Mapping):
        typed["mode"] = [f.STRONGEST]
        typed["strongest"] = [objective["strongest"]]
    if body.get("exclude"):
        typed["exclude"] = list(body["exclude"])
    _put(typed, "smallest_charge", body.get("smallest_charge_pct"))
    _put(typed, "most_stocks", body.get("most_stocks"))
    typed |= _fill_fields(body.get("fill") or {}, packages, default_package)
    return typed


def _fill_fields(
    fill: Mapping[str, Any], packages: tuple[Package, ...], default_package: Package | None
) -> dict[str, list[str]]:
    """The saved volume in whole packages, the default one first; bulk if none fits."""
    if not fill.get("volume_gal"):
        return {}
    volume = Decimal(repr(fill["volume_gal"]))
    first = [default_package] if default_package is not None else []
    for package in [*first, *packages]:
        if not package.is_bulk and volume % package.fill_gal == 0:
            return {"package": [package.code], "quantity": [str(int(volume / package.fill_gal))]}
    bulk = next((package for package in packages if package.is_bulk), None)
    if bulk is not None and volume == int(volume):
        return {"package": [bulk.code], "quantity": [str(int(volume))]}
    return {}


def _put(typed: dict[str, list[str]], name: str, value: float | None) -> None:
    if value is not None:
        typed[name] = [f"{value:.10g}"]
