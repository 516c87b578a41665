"""A question and its answer as they are typed."""

from django import forms
from django.utils.translation import gettext_lazy as _


class QuestionForm(forms.Form):
    text = forms.CharField(
        label=_("Your question"), max_length=2000, widget=forms.Textarea(attrs={"rows": 4})
    )


class ReplyForm(forms.Form):
    answer = forms.CharField(
        label=_("Answer; it is mailed"), max_length=2000, widget=forms.Textarea(attrs={"rows": 3})
    )
