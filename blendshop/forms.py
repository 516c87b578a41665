"""Form fields in Bootstrap's markup, without a third-party form package."""

from typing import Any

from django import forms
from django.forms.renderers import TemplatesSetting

_CHECKS = (forms.CheckboxInput, forms.RadioSelect, forms.CheckboxSelectMultiple)


class BootstrapBoundField(forms.BoundField):
    def build_widget_attrs(
        self, attrs: dict[str, Any], widget: forms.Widget | None = None
    ) -> dict[str, Any]:
        attrs = super().build_widget_attrs(attrs, widget)
        shown = widget or self.field.widget
        if isinstance(shown, _CHECKS):
            kind = "form-check-input"
        elif isinstance(shown, forms.Select):
            kind = "form-select"
        else:
            kind = "form-control"
        invalid = " is-invalid" if self.form.is_bound and self.errors else ""
        attrs["class"] = f"{shown.attrs.get('class', '')} {kind}{invalid}".strip()
        return attrs


class FieldRenderer(TemplatesSetting):
    field_template_name = "partials/field.html"
    bound_field_class = BootstrapBoundField
