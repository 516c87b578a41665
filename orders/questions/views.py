"""A customer's questions; the house answers them on the customer's page."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from blendshop.accounts.signed_in import signed_in
from blendshop.pages import page_of
from blendshop.roles import Role, role_required
from orders.models import CustomerQuestion
from orders.models.question import QuestionQuerySet
from orders.questions.actions import ANSWERERS, answer, ask
from orders.questions.forms import QuestionForm, ReplyForm
from orders.records.forms import Refusals, require_valid

QUESTIONS_A_PAGE = 20


@role_required(Role.CUSTOMER)
@require_http_methods(["GET", "HEAD", "POST"])
def own_questions(request: HttpRequest) -> HttpResponse:
    """Ask, and read what was answered, the newest on top."""
    user = signed_in(request)
    form = QuestionForm(request.POST if request.method == "POST" else None)
    refusals = Refusals(form)
    if request.method == "POST" and refusals.taken(lambda typed: ask(acting_user=user, **typed)):
        messages.success(request, _("Your question is with us; we answer by mail and here."))
        return redirect("own_questions")
    page = page_of(
        CustomerQuestion.objects.visible_to(user),
        request.GET.get("page"),
        per_page=QUESTIONS_A_PAGE,
        read=_with_people,
    )
    status = refusals.status if request.method == "POST" else 200
    context = {"form": form, "page": page}
    return render(request, "orders/questions/own_questions.html", context, status=status)


def _with_people(questions: QuestionQuerySet) -> QuestionQuerySet:
    return questions.select_related("asked_by", "answered_by")


@role_required(*ANSWERERS)
@require_POST
def question_answer(request: HttpRequest, pk: int) -> HttpResponse:
    user = signed_in(request)
    question = get_object_or_404(CustomerQuestion.objects.visible_to(user), pk=pk)
    text = require_valid(ReplyForm(request.POST))["answer"]
    answer(question=question, acting_user=user, text=text)
    messages.success(
        request, _("The answer will be mailed to {person}.").format(person=question.asked_by)
    )
    if request.POST.get("from_queue"):
        return redirect("requests_waiting")
    return redirect("customer_detail", question.company_id)
