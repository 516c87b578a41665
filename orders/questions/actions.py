"""A customer's question, which lands with its rep, and the one answer it gets."""

from collections.abc import Iterable
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
from blendshop.languages.choice import choice_of, in_house_words, written_in
from blendshop.outbox.actions import post_mail
from blendshop.roles import Role, require_role
from orders.models import CustomerQuestion, PlantProfile
from orders.records.reply_address import house_of

ANSWERERS: Final = (Role.REP, Role.OFFICE)


def ask(*, acting_user: User, text: str) -> CustomerQuestion:
    """Whoever signs in for a company asks; rep and office are mailed."""
    require_role(acting_user, Role.CUSTOMER)
    company = acting_user.company
    if company is None:
        raise NotAllowed(_("Only a customer asks here."))
    _require(text, "text")
    with transaction.atomic():
        question = CustomerQuestion.objects.create(
            company=company, asked_by=acting_user, text=text.strip()
        )
        addresses = house_of(company).order_by("email").values_list("email", flat=True).distinct()
        page = reverse("customer_detail", args=[company.pk])
        with in_house_words():
            subject = _("{company} asks").format(company=company)
            _mail(question, "house_asked", addresses, subject, page, acting_user, acting_user.email)
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
        to = [question.asked_by.email] if question.asked_by.is_active else []
        page = reverse("own_questions")
        with written_in(choice_of(question.asked_by)):
            subject = _("Your question to {plant}").format(plant=PlantProfile.load().name)
            _mail(question, "answered", to, subject, page, acting_user, acting_user.email)


def _require(text: str, field: str) -> None:
    if not text.strip():
        message = _("Write what it is about.")
        raise BadInput(message, fields={field: message})


def _mail(
    question: CustomerQuestion,
    template: str,
    to: Iterable[str],
    subject: str,
    page: str,
    acting_user: User,
    reply_to: str,
) -> None:
    context = {"question": question, "page_url": settings.SITE_URL + page}
    post_mail(
        to=to,
        subject=subject,
        text=render_to_string(f"orders/questions/mail/{template}.txt", context),
        about=(OF_CUSTOMER, str(question.company_id)),
        caused_by=acting_user,
        reply_to=reply_to,
    )
