"""What is typed on the blend page, checked field by field. It knows no arithmetic."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.http import QueryDict
from django.urls import reverse
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from blendshop.number_fields import AboveZeroField, ChanceField, CountField, NumberField, PctField
from blendshop.searched_rows import (
    FEW_KNOWN,
    SEARCH,
    Offer,
    SearchedSelect,
    offer_of_values,
    search_choices,
)
from formulas.engine.composition import NAMES
from formulas.reference.release_pools import demo_seasons
from orders.blend_page import fields as f
from orders.blend_page.page_options import PageOptions
from orders.blend_page.price_fields import price_fields
from orders.compliance.questions import law_fields
from orders.models import SprayHabit


@dataclass(frozen=True, slots=True)
class Slip:
    """What is wrong with one field, in words; no name if with the whole."""

    name: str
    label: str
    message: str


class WishForm(forms.Form):
    """The whole page as one form; its rows depend on what was sent.

    ``add`` opens one more row (``nutrient``, ``recipe`` or ``limit``) or takes over the stock to
    leave out (``exclude``), which is where typing goes on; ``focus=False`` leaves the reader where
    the answer is.
    """

    mode = forms.ChoiceField(
        choices=[
            (f.BY_WISH, "By wish"),
            (f.BY_RECIPE, "By recipe"),
            (f.STRONGEST, "Maximum"),
        ],
        widget=forms.RadioSelect,
    )

    def __init__(
        self, data: QueryDict, *, options: PageOptions, add: str = "", focus: bool = True
    ) -> None:
        self.options = options
        self.rows = _rows_shown(data, add)
        self.recipe_rows = _row_count(data, "recipe", add)
        self.limit_rows = _row_count(data, "limit", add)
        self.typed = _completed(data, options, self.recipe_rows, self.limit_rows)
        super().__init__(self.typed, auto_id="%s")
        self._stocks = options.stocks
        self._add_wish_fields()
        self._add_stock_fields()
        self._add_sale_fields()
        self._add_law_and_margin_fields()
        self._add_release_fields()
        self._leaves_out_more = focus and add == "exclude"
        if focus and not self._leaves_out_more:
            self.fields[self._typing_goes_on_at(data, add)].widget.attrs["autofocus"] = True

    def _typing_goes_on_at(self, data: QueryDict, add: str) -> str:
        if add == "recipe":
            return f.recipe_field("code", self.recipe_rows - 1)
        if add == "limit":
            return f.limit_field("code", self.limit_rows - 1)
        added = data.get("more", "") if add == "nutrient" else ""
        if not added and self.data["mode"] == f.BY_RECIPE:
            return f.recipe_field("code", 0)
        return f.wish_field(added if added in self.rows else "N", "min")

    @property
    def limits_set(self) -> int:
        """How much stands under "Limits on stocks", which is folded away."""
        stocks = [stock for stock in self.typed.getlist("exclude") if stock]
        return len(stocks) + sum(bool(self.data.get(name)) for name in self._limit_names)

    @property
    def has_limit_slips(self) -> bool:
        """Whether anything there has to be put right."""
        return any(name in self.errors for name in ("exclude", *self._limit_names))

    @property
    def _limit_names(self) -> list[str]:
        names = [f.limit_field("code", row) for row in range(self.limit_rows)]
        return [*names, "smallest_charge", "most_stocks", "on_hand", f.MATERIAL_MAX]

    @property
    def has_promises(self) -> bool:
        """Whether anything stands under "Law and margin", which is folded away otherwise."""
        names = ("legal", "legal_unverified", "margin")
        return any(self.data.get(name) or name in self.errors for name in names)

    @property
    def is_legal(self) -> bool:
        """Whether the law where it is sprayed is to enter the wish."""
        return bool(self.data.get("legal"))

    def _add_wish_fields(self) -> None:
        self.fields["strongest"] = forms.ChoiceField(
            label=_("Maximum of"),
            choices=[(key, NAMES[key]) for key in f.ALL_ROWS],
            widget=_small_select(),
        )
        self.fields["cheapest_per"] = forms.ChoiceField(
            label=_("The cheapest"),
            choices=[("gal", _("per gallon")), ("lb", _("per lb")), ("lb_N", _("per lb of N"))],
            widget=_small_select(),
        )
        for key in self.rows:
            for side, words in (("min", _("{name} at least, %")), ("max", _("{name} at most, %"))):
                label = words.format(name=NAMES[key])
                self.fields[f.wish_field(key, side)] = PctField(label=label, required=False)
        self.fields["slow_min"] = PctField(
            label=_("Slow release at least, % of total N"), required=False
        )
        self.fields["slow_max"] = PctField(
            label=_("Slow release at most, % of total N"), required=False
        )

    def _add_stock_fields(self) -> None:
        for row in range(self.recipe_rows):
            self._add_stock_choice(
                f.recipe_field("code", row), _("Stock {number}").format(number=row + 1)
            )
            share = _("Share of stock {number}, % by weight").format(number=row + 1)
            self.fields[f.recipe_field("pct", row)] = PctField(label=share, required=False)
        for row in range(self.limit_rows):
            self._add_stock_choice(
                f.limit_field("code", row), _("Limited stock {number}").format(number=row + 1)
            )
            for side, words in (
                ("min", _("Limited stock {number} at least, %")),
                ("max", _("Limited stock {number} at most, %")),
            ):
                label = words.format(number=row + 1)
                self.fields[f.limit_field(side, row)] = PctField(label=label, required=False)
        self.fields["exclude"] = forms.MultipleChoiceField(
            label=_("Leave out"),
            choices=self._stocks,
            required=False,
            widget=forms.CheckboxSelectMultiple,
        )
        if self.searches_stocks:  # what is left out already; more of it is searched
            self.fields["exclude"].widget.choices = [
                stock for stock in self._stocks if stock[0] in self.typed.getlist("exclude")
            ]
        self.fields["smallest_charge"] = PctField(
            label=_("Smallest charge, %"), required=False, in_table=False
        )
        self.fields["most_stocks"] = CountField(
            label=_("Most stocks"), required=False, min_value=1, max_value=60
        )
        if self.options.is_staff:
            self.fields["on_hand"] = _tick(_("Stock on hand only"))

    def _add_stock_choice(self, name: str, label: str) -> None:
        self.fields[name] = field = _stock_field(label, self._stocks)
        words = self._words_for(name)
        offer = offer_of_values(
            self._stocks, words=words, chosen=self.data.get(name, ""), most=FEW_KNOWN
        )
        search_choices(
            field, offer, url=reverse("blend_stock_options"), words=words,
            include=f"#{name}", empty=_("Choose a stock"),
        )  # fmt: skip

    def _words_for(self, name: str) -> str:
        """What was typed to search the choices of a field."""
        return str(self.data.get(f"{name}{SEARCH}", "")).strip()[:80]

    @property
    def searches_stocks(self) -> bool:
        """Whether there are too many to be listed."""
        return len(self._stocks) > FEW_KNOWN

    def one_more_to_leave_out(self) -> SafeString:
        """Where the stocks are too many to tick: the search for another one."""
        words = self._words_for("exclude")
        left_out = self.typed.getlist("exclude")
        rest = [stock for stock in self._stocks if stock[0] not in left_out]
        offer = offer_of_values(rest, words=words)
        widget = SearchedSelect(
            url=reverse("blend_stock_options"),
            words=words,
            choices=[("", _("Choose a stock")), *offer.choices],
            attrs={"class": "form-select-sm", "aria-label": _("Leave out another stock")},
        )
        attrs = {"id": "leave_out_more", "autofocus": self._leaves_out_more}
        return widget.render("exclude", "", attrs)

    def _add_sale_fields(self) -> None:
        options = self.options
        self.fields["package"] = forms.ChoiceField(
            label=_("Package"),
            choices=[(package.code, package.name) for package in options.packages],
            required=bool(options.packages),
            widget=_small_select(),
        )
        self.fields["quantity"] = CountField(label=_("How many"), min_value=1, max_value=1_000_000)
        self._add_row_choice(
            "company",
            _("Customer"),
            options.companies_offered(self._words_for("company"), self.company_pk),
            url=reverse("blend_customer_options"),
            empty=_("No customer yet") if options.is_staff else None,
        )
        place = str(self.data.get("ship_to", ""))
        self._add_row_choice(
            "ship_to",
            _("Ship to"),
            options.ship_tos_offered(self.company_pk, self._words_for("ship_to"), place),
            url=reverse("blend_ship_to_options"),
            empty=_("Picked up at the plant"),
            include="#company, ",
        )
        self.fields.update(price_fields(options))
        self.fields["n_rate"] = AboveZeroField(label=_("N rate, lb per 1000 sq ft"))
        self.fields["n_rate"].widget.attrs["accesskey"] = "y"
        self.fields["carrier"] = AboveZeroField(label=_("Spray volume, gal per 1000 sq ft"))
        self.fields["tank"] = AboveZeroField(label=_("Tank, gal"))
        self.fields["air"] = NumberField(label=_("Air temperature, F"))

    def _add_row_choice(
        self, name: str, label: str, offer: Offer, *, url: str, empty: str | None, include: str = ""
    ) -> None:
        none = [] if empty is None else [("", empty)]
        self.fields[name] = field = forms.ChoiceField(
            label=label, choices=[*none, *offer.choices], required=False, widget=_small_select()
        )
        search_choices(
            field, offer, url=url, words=self._words_for(name),
            include=f"{include}#{name}", empty=empty,
        )  # fmt: skip

    def _add_law_and_margin_fields(self) -> None:
        self.fields["legal"] = _tick(_("Legal where I spray"))
        self.fields["legal_unverified"] = _tick(_("Unverified rules too"))
        self.fields["margin"] = _tick(_("With margin, so that the label holds"))
        self.fields["margin_chance"] = ChanceField(label=_("Chance of missing any guarantee, %"))
        self.fields.update(law_fields())

    def _add_release_fields(self) -> None:
        seasons = [(code, season.name) for code, season in demo_seasons().items()]
        self.fields["season"] = forms.ChoiceField(
            label=_("Season"),
            choices=[*seasons, (f.TYPED_SEASON, _("soil temperatures typed in"))],
            required=False,
            widget=_small_select(),
        )
        for month in range(f.SOIL_MONTHS):
            label = _("Soil in month {number}, F").format(number=month + 1)
            self.fields[f.soil_field(month)] = NumberField(label=label, required=False)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for name, low, high in self._ranges(cleaned):
            if low is not None and high is not None and low > high:
                self.add_error(
                    name,
                    _("At least {low} is more than at most {high}.").format(
                        low=format(low, "g"), high=format(high, "g")
                    ),
                )
        self._check_rows(cleaned)
        return cleaned

    def _ranges(
        self, cleaned: Mapping[str, Any]
    ) -> Iterator[tuple[str, float | None, float | None]]:
        for key in self.rows:
            low, high = f.wish_field(key, "min"), f.wish_field(key, "max")
            yield low, cleaned.get(low), cleaned.get(high)
        yield "slow_min", cleaned.get("slow_min"), cleaned.get("slow_max")
        for row in range(self.limit_rows):
            low, high = f.limit_field("min", row), f.limit_field("max", row)
            yield low, cleaned.get(low), cleaned.get(high)

    def _check_rows(self, cleaned: Mapping[str, Any]) -> None:
        seen: set[str] = set()
        total = 0.0
        for row in range(self.recipe_rows):
            code = cleaned.get(f.recipe_field("code", row)) or ""
            pct = cleaned.get(f.recipe_field("pct", row))
            if code and code in seen:
                self.add_error(
                    f.recipe_field("code", row), _("This stock stands in the recipe twice.")
                )
            if pct is not None and not code:
                self.add_error(f.recipe_field("code", row), _("Say which stock this share is of."))
            seen.add(code)
            total += pct or 0.0
            if total > 100 + 1e-6 and pct and cleaned.get("mode") == f.BY_RECIPE:
                message = _("The shares add up to {total} %, more than 100 %.").format(
                    total=format(total, "g")
                )
                self.add_error(f.recipe_field("pct", row), message)
        for row in range(self.limit_rows):
            low, high = (cleaned.get(f.limit_field(side, row)) for side in ("min", "max"))
            if (low is not None or high is not None) and not cleaned.get(
                f.limit_field("code", row)
            ):
                self.add_error(f.limit_field("code", row), _("Say which stock is limited."))

    @property
    def slips(self) -> tuple[Slip, ...]:
        """Every slip, those of the whole first, then in the order of the fields."""
        whole = [Slip("", "", str(message)) for message in self.non_field_errors()]
        return (
            *whole,
            *(
                Slip(name, str(field.label), " ".join(str(error) for error in self.errors[name]))
                for name, field in self.fields.items()
                if name in self.errors
            ),
        )

    @property
    def in_bulk(self) -> bool:
        """Bulk is ordered by the gallon, everything else by the piece."""
        package = self.options.package(str(self.data.get("package", "")))
        return package is not None and package.is_bulk

    @property
    def company_pk(self) -> str:
        """The chosen company as sent; whose ship-tos are offered."""
        return str(self.data["company"])


def _tick(label: str) -> forms.BooleanField:
    widget = forms.CheckboxInput({"class": "form-check-input"})
    return forms.BooleanField(label=label, required=False, widget=widget)


def _small_select() -> forms.Select:
    return forms.Select({"class": "form-select-sm"})


def _stock_field(label: str, stocks: Sequence[tuple[str, str]]) -> forms.ChoiceField:
    return forms.ChoiceField(
        label=label,
        choices=[("", ""), *stocks],
        required=False,
        widget=forms.Select({"aria-label": label, "class": "form-select-sm"}),
        error_messages={
            "invalid_choice": _(
                "This stock cannot be used today: retired, short or without a cost."
            )
        },
    )


def _rows_shown(data: QueryDict, add: str) -> tuple[str, ...]:
    """Nutrient rows in label order: the first ones, those sent, the one just added."""
    added = data.get("more", "") if add == "nutrient" else ""
    kept = {
        key
        for key in f.MORE_ROWS
        if key == added or any(f.wish_field(key, side) in data for side in ("min", "max"))
    }
    return (*f.FIRST_ROWS, *(key for key in f.MORE_ROWS if key in kept))


def _row_count(data: QueryDict, kind: str, add: str) -> int:
    asked = data.get(f"{kind}_rows", f.DEFAULTS[f"{kind}_rows"])
    # A number of rows is the page's own bookkeeping, never typed: anything else is one row.
    count = int(asked) if asked.isdecimal() and len(asked) <= 2 else 1
    return max(1, min(f.MOST_ROWS, count + (add == kind)))


def blank(options: PageOptions) -> QueryDict:
    """What an untouched page holds."""
    nothing = QueryDict()
    recipe_rows, limit_rows = (_row_count(nothing, kind, "") for kind in ("recipe", "limit"))
    return _completed(nothing, options, recipe_rows, limit_rows)


def _completed(
    data: QueryDict, options: PageOptions, recipe_rows: int, limit_rows: int
) -> QueryDict:
    """The data with the defaults for whatever was not sent at all."""
    full = data.copy()
    if options.default_package is not None:
        full.setdefault("package", options.default_package.code)
    full.setdefault("season", next(iter(demo_seasons())))
    company = str(full.get("company", options.default_company))
    if options.company(company) is None:
        company = options.default_company
    full["company"] = company
    changed = full.get("ship_to_of", company) != company
    _fill_in_habit(full, company, options)
    for name, value in f.DEFAULTS.items():
        full.setdefault(name, value)
    first = options.first_ship_to_of(company)
    sent = options.ship_to(str(full.get("ship_to", "")))
    is_theirs = sent is not None and str(sent.company_id) == company
    if not is_theirs and ("ship_to" not in full or sent is not None or changed):
        # Another company was chosen: its first address, not the other company's.
        full["ship_to"] = str(first.pk) if first else ""
    if "exclude" in full:  # the search for another one sends an empty one
        full.setlist("exclude", [code for code in full.getlist("exclude") if code])
    full["recipe_rows"], full["limit_rows"] = str(recipe_rows), str(limit_rows)
    return full


def _sprayed(habit: SprayHabit | None) -> dict[str, str]:
    """How a page begins for a customer who sprays so."""
    if habit is None:
        return {name: f.DEFAULTS.get(name, "") for name in f.SPRAYED}
    figures = (habit.n_rate_lb_per_1000sqft, habit.carrier_gal_per_1000sqft)
    return dict(
        zip(
            f.SPRAYED,
            (*(f"{figure:g}" for figure in figures), habit.state, habit.county, habit.place),
            strict=True,
        )
    )


def _fill_in_habit(full: QueryDict, company: str, options: PageOptions) -> None:
    """How the customer sprayed last, where nobody said otherwise.

    Where another customer was chosen meanwhile, what stands as it began for the former one was not
    said by anybody.
    """
    before = str(full.get("ship_to_of", company))
    began = _sprayed(options.spray_habit_of(before)) if before != company else {}
    for name, value in _sprayed(options.spray_habit_of(company)).items():
        if name not in full or (name in began and full[name] == began[name]):
            full[name] = value
