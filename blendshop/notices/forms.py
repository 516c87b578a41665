"""Which notices are shown, and how somebody wants to be told."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from blendshop.accounts.models import User
from blendshop.form_fields import offer_choices
from blendshop.notices.kinds import Kind, kinds_for
from blendshop.notices.models import How, NoticeChoice
from blendshop.roles import roles_of


class NoticeFilter(forms.Form):
    """Of one kind, or all."""

    kind = forms.ChoiceField(label=_("Kind"), required=False)

    def __init__(self, *args: Any, kinds: Sequence[Kind], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        named = [(kind.name, kind.title) for kind in kinds]
        offer_choices(self, "kind", [("", _("All kinds")), *named])


class ReadForm(forms.Form):
    """One notice (``pk``), or all that happened until ``up_to``."""

    pk = forms.IntegerField(required=False)
    kind = forms.CharField(required=False)
    up_to = forms.DateTimeField(required=False)


class ChoicesForm(forms.Form):
    """One field a kind, as the person is told today."""

    def __init__(self, *args: Any, person: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        roles = roles_of(person)
        chosen = dict(NoticeChoice.objects.filter(person=person).values_list("kind", "how"))
        for kind in kinds_for(roles):
            self.fields[kind.name] = forms.ChoiceField(
                label=kind.title,
                choices=How.choices,
                initial=chosen.get(kind.name) or kind.usually(roles),
            )
