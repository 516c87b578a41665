"""Loading the shipped fact tables into the catalogue, without touching what people changed."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput
from blendshop.roles import Role, require_role
from blendshop.saving import save_valid
from formulas import reference
from formulas.engine.composition import content_pct
from formulas.engine.density.solutes import solute_of
from formulas.models import AnalysisFigure, BaseStock, CompatibilityRule, StockCost, Trait
from formulas.models.solute_list import write_solutes
from formulas.reference import BaseStockFacts, CompatibilityFacts, Source
from formulas.repricing.standing import costs_changed
from formulas.stocks.actions.stocks import hold_stocks, write_cost
from formulas.stocks.cost_moves import CostMove, ask_about, cost_move


@dataclass(frozen=True, slots=True)
class Loaded:
    """How many rows were written, and how many stood already and were left alone."""

    created: int
    updated: int
    kept: int


def load_base_stocks(*, acting_user: User, update: bool = False) -> Loaded:
    """Stocks, traits and compatibility rules of the fact tables; safe to repeat.

    What stands in the database stays as it is, edited or not, and a rule that was deleted stays
    deleted; with ``update`` the fact tables win.
    """
    require_role(acting_user, Role.FORMULATOR)
    counts = {"created": 0, "updated": 0, "kept": 0}
    with transaction.atomic():
        hold_stocks()
        traits = {}
        for facts in reference.traits():
            traits[facts.code], outcome = _trait(facts, acting_user, update=update)
            counts[outcome] += 1
        for stock in reference.base_stocks():
            counts[_stock(stock, traits, acting_user, update=update)] += 1
        for rule in reference.compatibility_rules():
            counts[_rule(rule, traits, acting_user, update=update)] += 1
    return Loaded(**counts)


@dataclass(frozen=True, slots=True)
class StockPrice:
    """What a stock costs: dollars in a unit of ``CostUnit``."""

    amount: Decimal
    unit: str


def set_stock_costs(
    *,
    acting_user: User,
    costs: Mapping[str, StockPrice],
    effective_from: date,
    sure_of: str = "",
) -> Loaded:
    """Costs of many stocks at once, by code, in force from a day on.

    What is not in the catalogue yet is first taken from the fact tables, with all traits and
    compatibility rules. A cost that stands already is not written again (``kept``). BadInput names
    each code that neither knows, or whose cost is wrong, LargeCostMoves what moves far and is not
    confirmed by ``sure_of``; then nothing is written.
    """
    require_role(acting_user, Role.FORMULATOR, Role.OFFICE)
    wrong: dict[str, str] = {}
    moves: list[CostMove] = []
    counts = {"created": 0, "updated": 0, "kept": 0}
    with transaction.atomic():
        stocks = _taken(costs.keys(), acting_user, wrong)
        for code, price in costs.items():
            if code in wrong:
                continue
            stands = stocks[code].cost_on(effective_from)
            if stands and (stands.amount, stands.unit) == (price.amount, price.unit):
                counts["kept"] += 1
                continue
            try:
                write_cost(
                    acting_user=acting_user,
                    stock=stocks[code],
                    amount=price.amount,
                    unit=price.unit,
                    effective_from=effective_from,
                )
            except BadInput as error:
                wrong[code] = " ".join(error.fields.values())
            else:
                counts["created"] += 1
                moves.append(cost_move(stocks[code], stands, price.amount, price.unit))
        if wrong:
            raise BadInput(_("Some costs need correcting."), fields=wrong)
        ask_about(moves, sure_of)
        if counts["created"]:
            costs_changed.send(StockCost, asked_by=acting_user)
    return Loaded(**counts)


def _taken(
    codes: Collection[str], acting_user: User, wrong: dict[str, str]
) -> dict[str, BaseStock]:
    """The rows of these codes, made from the fact tables where there are none."""
    facts = {each.code: each for each in reference.base_stocks()}
    known = set(BaseStock.objects.filter(code__in=codes).values_list("code", flat=True))
    if set(codes) - known:
        traits = {
            each.code: _trait(each, acting_user, update=False)[0] for each in reference.traits()
        }
        for code in set(codes) - known:
            if code in facts:
                _stock(facts[code], traits, acting_user, update=False)
            else:
                wrong[code] = _("There is no stock with the code {code}.").format(code=code)
        for rule in reference.compatibility_rules():
            _rule(rule, traits, acting_user, update=False)
    rows = BaseStock.objects.filter(code__in=codes).prefetch_related("costs")
    return {row.code: row for row in rows}


def load_demo_costs(*, acting_user: User, effective_from: date) -> Loaded:
    """The invented demo costs, for stocks that have no cost at all; safe to repeat."""
    require_role(acting_user, Role.FORMULATOR)
    created = kept = 0
    with transaction.atomic():
        without = {s.code: s for s in BaseStock.objects.filter(costs__isnull=True)}
        for cost in reference.demo_costs():
            if cost.stock not in without:
                kept += 1
                continue
            write_cost(
                acting_user=acting_user,
                stock=without[cost.stock],
                amount=cost.cost,
                unit=cost.per.value,
                effective_from=effective_from,
                note="demo cost, invented",
            )
            created += 1
    return Loaded(created=created, updated=0, kept=kept)


def _trait(facts: reference.TraitFacts, acting_user: User, *, update: bool) -> tuple[Trait, str]:
    row = Trait.objects.filter(code=facts.code).first()
    if row is not None and not update:
        return row, "kept"
    outcome = "created" if row is None else "updated"
    row = row or Trait(code=facts.code)
    row.name, row.description = facts.name, facts.description
    return save_valid(row, acting_user), outcome


def _stock(
    facts: BaseStockFacts, traits: Mapping[str, Trait], acting_user: User, *, update: bool
) -> str:
    row = BaseStock.objects.filter(code=facts.code).first()
    if row is not None and not update:
        return "kept"
    outcome = "created" if row is None else "updated"
    row = row or BaseStock(code=facts.code)
    for name, value in stock_fields(facts).items():
        setattr(row, name, value)
    save_valid(row, acting_user)
    row.traits.set([traits[code] for code in sorted(facts.traits)])
    row.analysis_figures.exclude(key__in=facts.analysis).delete()
    for key, pct in facts.analysis.items():
        source = facts.figure_sources[f"analysis.{key}"]
        figure = row.analysis_figures.filter(key=key).first() or AnalysisFigure(stock=row, key=key)
        figure.pct, figure.source, figure.mark = pct, with_note(source), source.mark.value
        save_valid(figure, acting_user)
    return outcome


def _rule(
    facts: CompatibilityFacts, traits: Mapping[str, Trait], acting_user: User, *, update: bool
) -> str:
    pair = {"trait_a": traits[facts.trait_a], "trait_b": traits[facts.trait_b]}
    row = CompatibilityRule.objects.filter(**pair).first()
    was_deleted = CompatibilityRule.history.filter(history_type="-", **pair).exists()
    if not update and (row is not None or was_deleted):
        return "kept"
    outcome = "created" if row is None else "updated"
    row = row or CompatibilityRule(**pair)
    row.effect, row.reason = facts.effect.value, facts.reason
    row.largest_pct, row.largest_ratio = facts.largest_pct, facts.largest_ratio
    row.source, row.mark = facts.source.text, facts.source.mark.value
    save_valid(row, acting_user)
    return outcome


def stock_fields(facts: BaseStockFacts) -> dict[str, Any]:
    """The columns of a stock row; a figure nobody published stays empty."""
    sources = facts.figure_sources
    density, hazards = sources["density_lb_per_gal"], sources["hazards"]
    origin = sources.get("other_origin")
    ph, salt = sources.get("ph"), sources.get("salt_index_per_unit")
    salt_index = None
    if facts.salt_index_per_unit is not None:
        units = sum(content_pct(facts.analysis, key) for key in facts.salt_index_per)
        salt_index = round(facts.salt_index_per_unit * units, 1)
    return {
        "name": facts.name,
        "derived_from": ", ".join(facts.derived_from),
        "other_origin": facts.other_origin,
        "other_origin_source": with_note(origin),
        "other_origin_mark": origin.mark.value if origin else "",
        "density_lb_per_gal": facts.density_lb_per_gal,
        "density_temp_f": facts.density_at_f,
        "density_source": with_note(density),
        "density_mark": density.mark.value,
        **_solute_fields(facts),
        "ph_low": facts.ph_low,
        "ph_high": facts.ph_high,
        "ph_source": with_note(ph),
        "ph_mark": ph.mark.value if ph else "",
        "salt_index": salt_index,
        "salt_index_source": with_note(salt),
        "salt_index_mark": salt.mark.value if salt else "",
        "salt_out_note": facts.salt_out_note,
        "hazards": facts.hazards,
        "ppe": facts.ppe,
        "hazards_source": with_note(hazards),
        "hazards_mark": hazards.mark.value,
        "charging_rank": facts.charging_rank,
        "min_pct": facts.min_pct,
        "max_pct": facts.max_pct,
        "share_source": with_note(sources["max_pct"]),
        "scale_step_lb": facts.scale_step_lb,
        "notes": facts.note,
    }


def _solute_fields(facts: BaseStockFacts) -> dict[str, str]:
    """What is dissolved, where everything the table lists has a volume; else nothing is known."""
    known = {solute: solute_of(solute.formula) for solute in facts.made_of}
    if not facts.made_of or not all(known.values()):
        return {"solutes": "", "solutes_source": "", "solutes_mark": ""}
    sources = dict.fromkeys(with_note(solute.source) for solute in facts.made_of)
    return {
        "solutes": write_solutes({found.key: of.pct for of, found in known.items() if found}),
        "solutes_source": "; ".join(sources),
        "solutes_mark": facts.made_of[0].source.mark.value,
    }


def with_note(source: Source | None) -> str:
    """A publication and what is doubtful about the figure, in one line."""
    if source is None:
        return ""
    return f"{source.text}. {source.note}" if source.note else source.text
