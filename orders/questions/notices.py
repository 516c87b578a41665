"""What the house is told of questions that are about no order."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from django.conf import settings
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.text import Truncator
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from blendshop.accounts.mails import OF_CUSTOMER
from blendshop.languages.choice import in_house_words
from blendshop.notices.actions import Cause, tell
from blendshop.notices.kinds import Kind, register
from blendshop.notices.mail import Letter
from blendshop.notices.models import How
from blendshop.roles import Role
from orders.records.reply_address import house_of

if TYPE_CHECKING:
    from orders.models import CustomerQuestion

QUESTION: Final = register(
    Kind(
        "customer_question",
        gettext_lazy("Customer has a question"),
        frozenset({Role.REP, Role.OFFICE}),
        {Role.REP: How.MAIL, Role.OFFICE: How.MAIL},
    )
)
#: So much of a question stands in its notice.
_SHOWN: Final = 160


@in_house_words()
def tell_question(question: CustomerQuestion) -> None:
    """Rep and office; it waits under "Requests that wait" until somebody has answered."""
    company = question.company
    page = f"{reverse('customer_detail', args=[company.pk])}#question-{question.pk}"
    said = Truncator(" ".join(question.text.split())).chars(_SHOWN)
    letter = Letter(
        _("{company} asks").format(company=company),
        render_to_string(
            "orders/questions/mail/house_asked.txt",
            {"question": question, "page_url": settings.SITE_URL + page},
        ),
        reply_to=question.asked_by.email,
    )
    cause = Cause(
        key=str(question.pk),
        name=str(company),
        text=_("{company} asks: {said}").format(company=company, said=said),
        link=page,
        about=(OF_CUSTOMER, str(company.pk)),
    )
    tell(QUESTION, house_of(company), cause, by=question.asked_by, letter=letter)
