"""A customer's question, which lands with its rep, and the one answer it gets."""

from typing import Final

from django.conf import settings
from django.db import transaction
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.mails import OF_CUSTOMER
from blendshop.accounts.models import User
from blendshop.errors import BadInput, IllegalMove, NotAllowed
from blendshop.languages.choice import choice_of, written_in
from blendshop.outbox.actions import post_mail
from blendshop.roles import Role, require_role
from orders.models import CustomerQuestion, PlantProfile
from orders.questions.notices import tell_question

ANSWERERS: Final = (Role.REP, Role.OFFICE)


def ask(*, acting_user: User, text: str) -> CustomerQuestion:
    """Whoever signs in for a company asks; rep and office are told, and it waits for an answer."""
    require_role(acting_user, Role.CUSTOMER)
    company = acting_user.company
    if company is None:
        raise NotAllowed(_("Only a customer asks here."))
    _require(text, "text")
    with transaction.atomic():
        question = CustomerQuestion.objects.create(
            company=company, asked_by=acting_user, text=text.strip()
        )
        tell_question(question)
    return question


def answer(*, question: CustomerQuestion, acting_user: User, text: str) -> None:
    """The house answers, once; who asked is mailed and reads it under the questions."""
    require_role(acting_user, *ANSWERERS)
    _require(text, "answer")
    with transaction.atomic():
        open_one = CustomerQuestion.objects.filter(pk=question.pk, answered_at__isnull=True)
        columns = {
            "answer": text.strip(),
            "answered_by": acting_user,
            "answered_at": timezone.now(),
        }
        if not open_one.update(**columns):
            raise IllegalMove(_("Somebody has answered it already."))
        question.refresh_from_db()
        if question.asked_by.is_active:
            _mail_answer(question, acting_user)


def _require(text: str, field: str) -> None:
    if not text.strip():
        message = _("Write what it is about.")
        raise BadInput(message, fields={field: message})


def _mail_answer(question: CustomerQuestion, acting_user: User) -> None:
    page = settings.SITE_URL + reverse("own_questions")
    with written_in(choice_of(question.asked_by)):
        post_mail(
            to=[question.asked_by.email],
            subject=_("Your question to {plant}").format(plant=PlantProfile.load().name),
            text=render_to_string(
                "orders/questions/mail/answered.txt", {"question": question, "page_url": page}
            ),
            about=(OF_CUSTOMER, str(question.company_id)),
            caused_by=acting_user,
            reply_to=acting_user.email,
        )
