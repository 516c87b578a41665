"""Forms of the blend list and of one blend."""

from typing import Any

from django import forms
from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from blendshop.accounts.models import Company, User
from blendshop.accounts.search import named
from blendshop.searched_rows import SEARCH, offer_searched


class BlendSearch(forms.Form):
    """Searches never fail: what cannot be understood is left aside."""

    q = forms.CharField(label=_("Name, grade or customer"), required=False, max_length=80)
    company = forms.ModelChoiceField(
        label=_("Customer"), required=False, queryset=Company.objects.none(), empty_label=_("All")
    )
    archived = forms.BooleanField(label=_("Archived blends"), required=False)

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer_searched(
            self,
            "company",
            Company.objects.visible_to(user),
            find=named,
            url=reverse("customer_options"),
            words=self.data.get(f"company{SEARCH}", ""),
            chosen=self.data.get("company"),
        )


class RenameForm(forms.Form):
    name = forms.CharField(label=_("Name"), max_length=120)


class ReviewForm(forms.Form):
    """A formulator's word on one revision, by its number."""

    do = forms.ChoiceField(choices=[("review", "review"), ("take_back", "take back")])
    revision = forms.IntegerField(min_value=1, widget=forms.HiddenInput())
    note = forms.CharField(label=_("Note"), required=False, max_length=400)
    from_queue = forms.BooleanField(required=False, widget=forms.HiddenInput())
