"""Back office of the catalogue: thin, with the same rules as the upload; history is kept.

What a stock costs is on pages of its own.
"""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.contrib import admin
from django.http import HttpRequest
from django.utils.translation import gettext_lazy as _

from blendshop.accounts.signed_in import signed_in
from blendshop.back_office import HistoryAdmin, PlainAdmin, RowInline
from blendshop.form_fields import InlineRows, RowForm
from blendshop.saving import save_valid
from formulas.models import (
    AnalysisFigure,
    BaseStock,
    CompatibilityRule,
    MetalFigure,
    Trait,
)
from formulas.stocks.actions.stocks import traits_kept_as_one_change
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
    search_help_text = _("Code or name")
    filter_horizontal = ("traits",)
    inlines = (AnalysisFigureInline, MetalFigureInline)

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> Sequence[str]:
        return ("code",) if obj else ()

    def save_related(self, request: HttpRequest, form: Any, *more: Any) -> None:
        with traits_kept_as_one_change(form.instance):
            super().save_related(request, form, *more)
        if "traits" in form.changed_data:
            save_valid(form.instance, signed_in(request))

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """A stock is retired, not deleted: saved blends and costs name it."""
        return False


@admin.register(Trait)
class TraitAdmin(PlainAdmin):
    list_display = ("code", "name", "description")
    search_fields = ("code", "name")
    search_help_text = _("Code or name")


@admin.register(CompatibilityRule)
class CompatibilityRuleAdmin(HistoryAdmin):
    list_display = ("trait_a", "trait_b", "effect", "mark", "active")
    list_filter = ("effect", "mark", "active")
    list_select_related = ("trait_a", "trait_b")
    search_fields = ("trait_a__code", "trait_b__code", "reason")
    search_help_text = _("Trait or reason")
