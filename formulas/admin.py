"""Back office of the catalogue: thin, with the same rules as the upload; history is kept."""

from collections.abc import Sequence
from typing import Any, cast

from django import forms
from django.contrib import admin
from django.http import HttpRequest

from blendshop.accounts.models import User
from blendshop.back_office import HistoryAdmin, LookOnlyAdmin, PlainAdmin, RowInline
from blendshop.form_fields import InlineRows, RowForm
from formulas.models import (
    AnalysisFigure,
    BaseStock,
    Blend,
    BlendRevision,
    CompatibilityRule,
    DraftWish,
    MetalFigure,
    StockCost,
    Trait,
)
from formulas.stocks.table.rules import analysis_problems, code_problem


class AnalysisFormSet(InlineRows):
    """The figures of one stock together must be an analysis."""

    def clean(self) -> None:
        super().clean()
        contents = {
            form.cleaned_data["key"]: form.cleaned_data["pct"]
            for form in self.forms
            if form.cleaned_data.get("pct") is not None and not form.cleaned_data.get("DELETE")
        }
        problems = analysis_problems(contents)
        if problems:
            raise forms.ValidationError(list(problems.values()))


class AnalysisFigureInline(RowInline):
    model = AnalysisFigure
    formset = AnalysisFormSet
    extra = 1


class MetalFigureInline(RowInline):
    """Heavy metals from certificates; a metal without a line is not assessed on labels."""

    model = MetalFigure
    extra = 0


class StockCostInline(RowInline):
    """The history of costs; a new cost is a new line, an old one is never edited."""

    model = StockCost
    extra = 0
    fields = ("effective_from", "amount", "unit", "note", "entered_by", "entered_at")
    readonly_fields = ("entered_by", "entered_at")

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


class BaseStockForm(RowForm):
    class Meta:
        model = BaseStock
        fields = (
            "code", "name", "derived_from", "traits",
            "other_origin", "other_origin_source", "other_origin_mark",
            "density_lb_per_gal", "density_temp_f", "density_source", "density_mark",
            "solutes", "solutes_source", "solutes_mark",
            "ph_low", "ph_high", "ph_source", "ph_mark",
            "salt_index", "salt_index_source", "salt_index_mark", "salt_out_note",
            "hazards", "ppe", "hazards_source", "hazards_mark",
            "charging_rank", "min_pct", "max_pct", "share_source", "scale_step_lb",
            "short", "retired_on", "notes",
        )  # fmt: skip

    def clean_code(self) -> str:
        code: str = self.cleaned_data["code"]
        problem = None if self.instance.pk else code_problem(code)
        if problem:
            raise forms.ValidationError(problem)
        return code

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        low, high = cleaned.get("ph_low"), cleaned.get("ph_high")
        if low is not None and high is not None and low > high:
            self.add_error("ph_high", "The highest pH is below the lowest.")
        return cleaned


@admin.register(BaseStock)
class BaseStockAdmin(HistoryAdmin):
    form = BaseStockForm
    list_display = (
        "code",
        "name",
        "density_lb_per_gal",
        "min_pct",
        "max_pct",
        "short",
        "retired_on",
    )
    list_filter = ("short", "retired_on", "traits")
    search_fields = ("code", "name")
    filter_horizontal = ("traits",)
    inlines = (AnalysisFigureInline, MetalFigureInline, StockCostInline)

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> Sequence[str]:
        return ("code",) if obj else ()

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """A stock is retired, not deleted: saved blends and costs name it."""
        return False

    def save_formset(self, request: HttpRequest, form: Any, formset: Any, change: bool) -> None:  # noqa: FBT001 - Django's signature
        for row_form in formset.forms:
            if isinstance(row_form.instance, StockCost):
                row_form.instance.entered_by = cast("User", request.user)
        super().save_formset(request, form, formset, change)


@admin.register(Trait)
class TraitAdmin(PlainAdmin):
    list_display = ("code", "name", "description")
    search_fields = ("code", "name")


@admin.register(CompatibilityRule)
class CompatibilityRuleAdmin(HistoryAdmin):
    list_display = ("trait_a", "trait_b", "effect", "mark", "active")
    list_filter = ("effect", "mark", "active")
    list_select_related = ("trait_a", "trait_b")
    search_fields = ("trait_a__code", "trait_b__code", "reason")


@admin.register(StockCost)
class StockCostAdmin(PlainAdmin):
    """Costs may be added here as well; the history stays."""

    list_display = ("stock", "effective_from", "amount", "unit", "entered_by")
    list_filter = ("stock",)
    list_select_related = ("stock", "entered_by")
    fields = ("stock", "effective_from", "amount", "unit", "note")
    date_hierarchy = "effective_from"

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def save_model(self, request: HttpRequest, obj: StockCost, form: Any, change: bool) -> None:  # noqa: FBT001 - Django's signature
        obj.entered_by = cast("User", request.user)
        super().save_model(request, obj, form, change)


@admin.register(Blend)
class BlendAdmin(LookOnlyAdmin):
    list_display = ("name", "company", "archived", "created_by", "created_at")
    list_select_related = ("company", "created_by")
    list_filter = ("archived",)
    search_fields = ("name", "company__name")


@admin.register(BlendRevision)
class BlendRevisionAdmin(LookOnlyAdmin):
    list_display = ("blend", "number", "grade", "slow_release_pct", "created_by", "created_at")
    list_select_related = ("blend", "created_by")
    search_fields = ("blend__name", "grade")


@admin.register(DraftWish)
class DraftWishAdmin(LookOnlyAdmin):
    list_display = ("name", "company", "note", "created_by", "created_at")
    list_select_related = ("company", "created_by")
    search_fields = ("name", "company__name")
