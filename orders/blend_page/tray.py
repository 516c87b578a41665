"""What was tried, side by side: each row beside the first one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput
from orders.blend_page.page_state import PageState
from orders.blend_page.usual_name import usual_name
from orders.frozen.line_price import RecipeShare
from orders.frozen.tried_blend import TriedFigures, TriedResult
from orders.models import TriedBlend
from orders.verdict.strip import Standing, Strip, StripResult, Subject


@dataclass(frozen=True, slots=True)
class TrayRow:
    """One row; differences are to the first, None in it or where they cannot be compared."""

    tried: TriedBlend
    figures: TriedFigures
    name: str
    per_gal_more: Decimal | None
    per_package_more: Decimal | None
    per_1000sqft_more: Decimal | None

    @property
    def strip(self) -> Strip | None:
        """What decided when it was kept."""
        kept = self.figures.strip
        results = (
            StripResult(Subject(each.subject), Standing[each.standing], each.sentence)
            for each in kept
        )
        return Strip.of(results) if kept else None

    @property
    def weeks(self) -> int | None:
        days = self.figures.feeding_days
        return None if days is None else round(days / 7)


def tray_of(user: User, typed: Mapping[str, str]) -> tuple[TrayRow, ...]:
    """The person's rows, oldest first; ``typed`` are names that were typed for them, by field."""
    rows = list(
        TriedBlend.objects.filter(person=user).select_related("company", "ship_to", "package")
    )
    if not rows:
        return ()
    first = rows[0]
    shown: list[TrayRow] = []
    for tried in rows:
        own, beside = tried.figures, first.figures
        packages = (own.price_per_package, beside.price_per_package)
        name = typed.get(f"name-{tried.pk}") or usual_name(
            own.grade, own.slow_release_pct, tried.company, [row.name for row in shown]
        )
        same_package = tried.package_id == first.package_id and None not in packages
        shown.append(
            TrayRow(
                tried,
                own,
                name,
                None if tried is first else own.price_per_gal - beside.price_per_gal,
                None
                if tried is first or not same_package
                else (packages[0] or Decimal(0)) - (packages[1] or Decimal(0)),
                None if tried is first else _per_1000sqft_more(own, beside),
            )
        )
    return tuple(shown)


def _per_1000sqft_more(own: TriedFigures, beside: TriedFigures) -> Decimal | None:
    """Of a lawn fed with the same nitrogen; None where one is fed otherwise or no rate was said."""
    if own.price_per_1000sqft is None or beside.price_per_1000sqft is None:
        return None
    if own.n_rate_lb_per_1000sqft != beside.n_rate_lb_per_1000sqft:
        return None
    return own.price_per_1000sqft - beside.price_per_1000sqft


def figures_of(worked: PageState) -> TriedFigures:
    """What the page shows of a blend; BadInput without a blend or a price to compare."""
    price, blend = worked.price, worked.blend
    if blend is None or not worked.may_be_saved:
        raise BadInput(_("There is no blend to keep yet."))
    if price is None or price.breakdown is None:
        raise BadInput(price.problem if price else _("There is no price to compare yet."))
    release = worked.release()
    return TriedFigures(
        grade=worked.grade,
        slow_release_pct=blend.slow_release_pct,
        price_per_gal=price.breakdown.price_per_gal,
        price_per_package=price.breakdown.price_per_package,
        total=price.breakdown.total,
        n_rate_lb_per_1000sqft=worked.form.cleaned_data.get("n_rate"),
        price_per_1000sqft=price.breakdown.price_per_1000sqft,
        season=release.season_name if release else "",
        feeding_days=release.feeding_days if release else None,
        strip=tuple(
            TriedResult(result.subject.value, result.standing.name, result.sentence)
            for result in (worked.strip.results if worked.strip else ())
        ),
        recipe=tuple(RecipeShare(line.code, line.name, line.pct) for line in blend.recipe),
    )
