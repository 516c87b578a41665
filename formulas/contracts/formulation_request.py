"""The body of a formulation, read strictly into a question for the engine."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any, Final

from formulas.contracts.margin_request import ParsedMargin, read_margin
from formulas.contracts.strict_json import Node, Refusals
from formulas.engine import problem as engine
from formulas.engine.result import Share
from formulas.engine.validate import SUM_TOLERANCE_PCT, validate
from formulas.engine_bridge import Catalogue, cost_as_float, require_stocks, shipped_rules

_GIVEN: Final = "given in the request"
#: Wishes beside a complete recipe turn "what is this?" into "does this meet the wish?".
_WISH_KEYS: Final = (
    "targets",
    "slow_release_pct",
    "stock_limits",
    "exclude",
    "smallest_charge_pct",
    "most_stocks",
    "cost_per_gal",
    "objective",
    "margin",
)
#: What one request may bring of its own; the catalogue itself may be larger.
MOST_STOCKS: Final = 60
MOST_RULES: Final = 60
MOST_TARGETS: Final = 60
MOST_SHARES: Final = 60
MOST_TRAITS: Final = 20
#: Pairs of stocks that rules of a request forbid or limit: the shipped table has about a hundred.
MOST_PAIRS: Final = 2_000
_NOTHING_ASKED: Final[tuple[Any, ...]] = (None, [], {}, 0, "cheapest")


@dataclass(frozen=True, slots=True)
class ParsedRequest:
    """A valid question. ``recipe`` is set when a complete recipe is only to be evaluated.

    In the problem the wanted shares of a partial recipe stand behind the request's own
    ``stock_limits``; ``own_limits`` is how many those are. ``exclude`` is as sent.
    """

    problem: engine.BlendProblem
    catalogue: Catalogue
    recipe: tuple[Share, ...] | None
    own_limits: int
    exclude: tuple[str, ...]
    brings_stocks: bool
    brings_rules: bool
    margin: ParsedMargin | None = None


def needs_catalogue(body: Any) -> bool:
    """Whether the body is a request that leaves the stocks to the catalogue."""
    return isinstance(body, Mapping) and body.get("stocks") is None


def read_request(body: Any, catalogue: Catalogue | None) -> ParsedRequest:
    """The question in ``body``; BadInput with every refused field otherwise."""
    refusals = Refusals()
    node = Node(body, "", refusals)
    if refusals.fields:
        raise refusals.error()
    offered = _catalogue(node, catalogue, refusals)
    recipe = _recipe(node, offered, refusals)
    own_limits, exclude = _stock_limits(node), node.texts("exclude")
    strongest, cheapest_per = _objective(node)
    problem = engine.BlendProblem(
        stocks=offered.stocks,
        wishes=tuple(_targets(node)),
        slow_release=_slow_release(node),
        stock_limits=own_limits,
        # A stock that the catalogue leaves out already need not be known to the engine.
        exclude=frozenset(exclude) - set(offered.left_out),
        rules=offered.rules,
        smallest_charge_pct=node.number("smallest_charge_pct") or 0.0,
        most_stocks=node.whole_number("most_stocks"),
        strongest=strongest,
        cheapest_per=cheapest_per,
        cost_ceiling=_cost_ceiling(node),
        fill=_fill(node),
    )
    margin = read_margin(node)
    evaluated = recipe and all(node.values.get(key) in _NOTHING_ASKED for key in _WISH_KEYS)
    node.done()
    _check_recipe(recipe, problem, refusals, must_be_whole=bool(evaluated))
    if not evaluated:
        fixed = tuple(engine.StockLimit(share.code, share.pct, share.pct) for share in recipe)
        problem = replace(problem, stock_limits=own_limits + fixed)
    if node.has("stocks") or node.has("rules"):
        _refuse_many_pairs(problem, refusals)
    if not refusals.covers("rules"):
        _add_engine_refusals(problem, offered, len(own_limits), refusals)
    if refusals.fields:
        raise refusals.error()
    return ParsedRequest(
        problem=problem,
        catalogue=offered,
        recipe=recipe if evaluated else None,
        own_limits=len(own_limits),
        exclude=exclude,
        brings_stocks=node.has("stocks"),
        brings_rules=node.has("rules"),
        margin=margin,
    )


def _refuse_many_pairs(problem: engine.BlendProblem, refusals: Refusals) -> None:
    """Each pair of stocks that a rule keeps apart is a row of the program."""
    with_trait = Counter(trait for stock in problem.stocks for trait in stock.traits)
    pairs = sum(
        with_trait[rule.trait_a] * with_trait[rule.trait_b]
        for rule in problem.rules
        if rule.effect in (engine.Effect.BLOCKS, engine.Effect.LIMIT)
    )
    if pairs > MOST_PAIRS:
        refusals.add(
            "rules",
            f"The rules keep {pairs:,} pairs of stocks apart, more than {MOST_PAIRS:,}. "
            "Give fewer rules, or fewer stocks with their traits.",
        )


def _add_engine_refusals(
    problem: engine.BlendProblem, offered: Catalogue, own_limits: int, refusals: Refusals
) -> None:
    """What the engine refuses, unless the same place was refused while reading it."""
    try:
        validate(problem)
    except engine.BadProblem as bad:
        for error in bad.errors:
            path = _request_path(error.field, own_limits)
            if not refusals.covers(path):
                refusals.add(path, offered.left_out.get(error.unknown_stock or "", error.message))


def _request_path(field: str, own_limits: int) -> str:
    """Limits behind the request's own ones came from its ``recipe``."""
    parts = field.split(".")
    if parts[0] == "stock_limits" and len(parts) > 1 and int(parts[1]) >= own_limits:
        key = ["code"] if parts[-1] == "code" else ["pct"]
        return ".".join(["recipe", str(int(parts[1]) - own_limits), *key])
    return field


def _catalogue(node: Node, catalogue: Catalogue | None, refusals: Refusals) -> Catalogue:
    rules = tuple(_rules(node)) if node.has("rules") else None
    node.raw("rules")
    if node.has("stocks"):
        stocks, costs = _stocks(node)
        return Catalogue(stocks, costs, shipped_rules() if rules is None else rules)
    node.raw("stocks")
    if catalogue is None:
        refusals.add("stocks", "Is missing.")
        return Catalogue((), {}, ())
    require_stocks(catalogue)
    return catalogue if rules is None else replace(catalogue, rules=rules)


def _stocks(node: Node) -> tuple[tuple[engine.Stock, ...], dict[str, Decimal]]:
    stocks: list[engine.Stock] = []
    costs: dict[str, Decimal] = {}
    for item in node.children("stocks", most=MOST_STOCKS):
        code = item.text("code", required=True) or ""
        cost = item.cost("cost_per_lb", required=True) or Decimal(0)
        least, most = item.number("min_pct"), item.number("max_pct")
        step, rank = item.number("scale_step_lb"), item.whole_number("charging_rank")
        costs[code] = cost
        stocks.append(
            engine.Stock(
                code=code,
                name=item.text("name") or code,
                # A refused density is named already; 1 keeps the engine's list to the rest.
                density_lb_per_gal=_or(item.number("density_lb_per_gal", required=True), 1.0),
                cost_per_lb=cost_as_float(cost),
                analysis=item.numbers("analysis"),
                min_pct=_or(least, 0.0),
                max_pct=_or(most, 100.0),
                traits=frozenset(item.texts("traits", most=MOST_TRAITS)),
                scale_step_lb=_or(step, 1.0),
                charging_rank=50 if rank is None else rank,
                solutes=item.numbers("solutes"),
            )
        )
        item.done()
    return tuple(stocks), costs


def _rules(node: Node) -> Iterable[engine.CompatibilityRule]:
    for item in node.children("rules", most=MOST_RULES):
        trait_a, trait_b = item.text("trait_a", required=True), item.text("trait_b", required=True)
        effect = item.text("effect", required=True)
        reason, source = item.text("reason"), item.text("source")
        largest_pct, largest_ratio = item.number("largest_pct"), item.number("largest_ratio")
        item.done()
        if effect is not None and effect not in tuple(engine.Effect):
            known = ", ".join(engine.Effect)
            item.refusals.add(item.at("effect"), f"Must be one of {known}.")
        elif trait_a and trait_b and effect:
            yield engine.CompatibilityRule(
                trait_a=trait_a,
                trait_b=trait_b,
                effect=engine.Effect(effect),
                reason=reason or _GIVEN,
                source=source or _GIVEN,
                largest_pct=largest_pct,
                largest_ratio=largest_ratio,
            )


def _targets(node: Node) -> Iterable[engine.NutrientWish]:
    for item in node.children("targets", most=MOST_TARGETS):
        nutrient = item.text("nutrient", required=True) or ""
        yield engine.NutrientWish(nutrient, item.number("min"), item.number("max"))
        item.done()


def _slow_release(node: Node) -> engine.SlowReleaseWish | None:
    item = node.child("slow_release_pct")
    if item is None:
        return None
    wish = engine.SlowReleaseWish(item.number("min"), item.number("max"))
    item.done()
    return wish


def _cost_ceiling(node: Node) -> engine.CostCeiling | None:
    item = node.child("cost_per_gal")
    if item is None:
        return None
    most = item.number("max", required=True)
    item.number("price")
    item.text("price_per")
    item.done()
    return None if most is None else engine.CostCeiling(most)


def _stock_limits(node: Node) -> tuple[engine.StockLimit, ...]:
    limits = []
    for item in node.children("stock_limits"):
        code = item.text("code", required=True) or ""
        limits.append(engine.StockLimit(code, item.number("min_pct"), item.number("max_pct")))
        item.done()
    return tuple(limits)


def _objective(node: Node) -> tuple[str | None, engine.Per]:
    """The nutrient to be strongest, else for what the blend is to be the cheapest."""
    value = node.raw("objective")
    if value is None or value == "cheapest":
        return None, engine.Per.LB
    if not isinstance(value, Mapping):
        node.refusals.add(
            "objective",
            'Must be "cheapest", {"cheapest_per": "gal", "lb" or "lb_N"} or '
            '{"strongest": a nutrient}.',
        )
        return None, engine.Per.LB
    item = Node(value, "objective", node.refusals)
    per = item.text("cheapest_per")
    strongest = item.text("strongest", required=per is None)
    item.done()
    if per is None:
        return strongest, engine.Per.LB
    if strongest is not None:
        item.refusals.add(item.at("cheapest_per"), "Give one objective: this or strongest.")
    elif per not in tuple(engine.Per):
        item.refusals.add(item.at("cheapest_per"), f"Must be one of {', '.join(engine.Per)}.")
    else:
        return None, engine.Per(per)
    return None, engine.Per.LB


def _fill(node: Node) -> engine.Fill:
    item = node.child("fill")
    if item is None:
        return engine.Fill(volume_gal=1.0)
    fill = engine.Fill(item.number("volume_gal"), item.number("mass_lb"))
    item.done()
    return fill


def _recipe(node: Node, offered: Catalogue, refusals: Refusals) -> tuple[Share, ...]:
    known = {stock.code for stock in offered.stocks}
    shares: dict[str, Share] = {}
    for item in node.children("recipe", most=MOST_SHARES):
        code, pct = item.text("code", required=True), item.number("pct", required=True)
        item.done()
        if code is None or pct is None:
            continue
        if code not in known:
            unknown = f"There is no stock with the code {code}."
            refusals.add(item.at("code"), offered.left_out.get(code, unknown))
        if code in shares:
            refusals.add(item.at("code"), f"{code} is given twice.")
        if not 0 <= pct <= 100:
            refusals.add(item.at("pct"), "Must be a number from 0 to 100 percent.")
        shares[code] = Share(code, pct)
    return tuple(shares.values())


def _check_recipe(
    recipe: tuple[Share, ...],
    problem: engine.BlendProblem,
    refusals: Refusals,
    *,
    must_be_whole: bool,
) -> None:
    total = sum(share.pct for share in recipe)
    limited = {limit.code for limit in problem.stock_limits}
    for index, share in enumerate(recipe):
        if share.code in problem.exclude:
            refusals.add(f"recipe.{index}.code", f"{share.code} stands under exclude too.")
        if share.code in limited:
            refusals.add(f"recipe.{index}.code", f"{share.code} stands under stock_limits too.")
    if total > 100 + SUM_TOLERANCE_PCT:
        refusals.add("recipe", f"The shares add up to {total:.10g} %, more than 100 %.")
    elif must_be_whole and total < 100 - SUM_TOLERANCE_PCT:
        refusals.add(
            "recipe",
            f"The shares add up to {total:.10g} %, not 100 %. "
            "Give targets to have the rest solved.",
        )


def _or(value: float | None, otherwise: float) -> float:
    return otherwise if value is None else value
