"""Jar tests: the list, one test with its photo, registering and withdrawing."""

from typing import Final

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.errors import BadInput
from blendshop.roles import STAFF, has_role, role_required
from blendshop.uploads import MB, sent_back, takes_files
from formulas import reference
from formulas.access import get_jar_test_for, get_revision_for
from formulas.jar_tests.actions import REGISTRARS, WITHDRAWERS, register_jar_test, withdraw_jar_test
from formulas.jar_tests.forms import LARGEST_PHOTO_MB, JarTestFilter, JarTestForm, WithdrawForm
from formulas.jar_tests.storage import recipe_from_query
from formulas.models import BlendRevision, JarTest

TESTS_PER_PAGE: Final = 25


@require_safe
@role_required(*STAFF)
def jar_test_list(request: HttpRequest) -> HttpResponse:
    """Every jar, newest first; by stock and outcome."""
    form = JarTestFilter(request.GET)
    wanted = form.cleaned_data if form.is_valid() else {}
    tests = JarTest.objects.visible_to(signed_in(request)).select_related(
        "revision__blend", "withdrawal"
    )
    tests = tests.prefetch_related("shares__stock")
    if stock := wanted.get("stock"):
        tests = tests.filter(shares__stock=stock)
    if outcome := wanted.get("outcome"):
        tests = tests.filter(outcome=outcome)
    page = Paginator(tests, TESTS_PER_PAGE).get_page(request.GET.get("page"))
    may_register = has_role(signed_in(request), *REGISTRARS)
    context = {"form": form, "page": page, "may_register": may_register}
    return render(request, "formulas/jar_tests/jar_test_list.html", context)


@require_safe
@role_required(*STAFF)
def jar_test_detail(request: HttpRequest, pk: int) -> HttpResponse:
    test = get_jar_test_for(signed_in(request), pk)
    return _detail(request, test, WithdrawForm())


@require_http_methods(["GET", "HEAD", "POST"])
@role_required(*REGISTRARS)
@takes_files(LARGEST_PHOTO_MB * MB)
def jar_test_register(request: HttpRequest) -> HttpResponse:
    """``?revision=`` or ``?recipe=`` fills the rows in; more rows on request."""
    revision = _revision(request)
    form = JarTestForm(recipe=_recipe(request, revision))
    status = 200
    if request.method == "POST":
        form = JarTestForm(request.POST, request.FILES)
        status = 400
        if form.is_valid() and (test := _registered(request, form, revision)) is not None:
            messages.success(request, _("Registered as {code}.").format(code=test.code))
            return redirect("jar_test_detail", pk=test.pk)
    context = {"form": form, "revision": revision, "procedure": reference.jar_test()}
    return render(request, "formulas/jar_tests/jar_test_register.html", context, status=status)


@require_POST
@role_required(*WITHDRAWERS)
def jar_test_withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    test = get_jar_test_for(signed_in(request), pk)
    form = WithdrawForm(request.POST)
    if not form.is_valid():
        return _detail(request, test, form, status=400)
    why = form.cleaned_data["why"]
    withdraw_jar_test(jar_test=test, why=why, acting_user=signed_in(request))
    messages.success(request, _("{code} does not count any more.").format(code=test.code))
    return redirect("jar_test_detail", pk=pk)


@require_safe
@role_required(*STAFF)
def jar_test_photo(request: HttpRequest, pk: int) -> HttpResponse:
    """The photo; there is no other way to it."""
    test = get_jar_test_for(signed_in(request), pk)
    if not test.photo:
        raise Http404("No photo.")
    return sent_back(test.photo, test.code, shown=True)


def _detail(
    request: HttpRequest, test: JarTest, form: WithdrawForm, *, status: int = 200
) -> HttpResponse:
    withdrawal = getattr(test, "withdrawal", None)
    context = {
        "test": test,
        "withdrawal": withdrawal,
        "form": form,
        "may_withdraw": withdrawal is None and has_role(signed_in(request), *WITHDRAWERS),
    }
    return render(request, "formulas/jar_tests/jar_test_detail.html", context, status=status)


def _registered(
    request: HttpRequest, form: JarTestForm, revision: BlendRevision | None
) -> JarTest | None:
    """The written test, or None with the refusal beside its fields."""
    try:
        return register_jar_test(
            jar=form.jar(revision), key=form.cleaned_data["key"], acting_user=signed_in(request)
        )
    except BadInput as bad:
        named = {name: text for name, text in bad.fields.items() if name in form.fields}
        for name, text in named.items():
            form.add_error(name, text)
        if not named:
            form.add_error(None, bad.message)
        return None


def _revision(request: HttpRequest) -> BlendRevision | None:
    pk = request.GET.get("revision", "")
    return get_revision_for(signed_in(request), pk) if pk.isdecimal() else None


def _recipe(request: HttpRequest, revision: BlendRevision | None) -> dict[str, float]:
    if revision is not None:
        return dict(revision.lines.order_by("-pct").values_list("stock__code", "pct"))
    return recipe_from_query(request.GET.get("recipe", ""))
