"""The blend page: what is asked on the left, the answer beside it, saved when it is right."""

from typing import Any, Final

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from blendshop.accounts.models import User
from blendshop.errors import BadInput
from blendshop.roles import BLENDS, role_required
from formulas.actions.blends import save_blend
from formulas.models import Blend, BlendRevision
from orders.blend_page import fields as f
from orders.blend_page.desk import Desk, load_desk
from orders.blend_page.page import ADD, TAKE, Visit, overtyped, visit
from orders.blend_page.question import fields_of
from orders.blend_page.wish_form import WishForm

#: The part of the answer that is asked for by itself, after the rest stands on the page.
CURVE: Final = "curve"


@require_safe
@role_required(*BLENDS)
def blend_page(request: HttpRequest) -> HttpResponse:
    """The whole page; a link carries its wish, ``?revision=`` brings back a saved one."""
    desk = _desk(request)
    data, revision = request.GET, None
    if "revision" in data:
        revision = _revision(request.user, data["revision"])
        data = _saved_wish(revision, desk)
    return _page(request, visit(WishForm(data, desk=desk)), revision=revision)


@require_http_methods(["GET", "HEAD", "POST"])
@role_required(*BLENDS)
def blend_answer(request: HttpRequest) -> HttpResponse:
    """The answer alone for htmx; the whole page for everybody else, or when rows changed."""
    data = request.POST if request.method == "POST" else request.GET
    add, taken = data.get(ADD, ""), TAKE in data
    form = WishForm(overtyped(data), desk=_desk(request), add=add, focus=not taken)
    worked = visit(form)
    if not request.htmx:  # type: ignore[attr-defined]
        return _page(request, worked, add=add, taken=taken)
    if data.get("part") == CURVE:
        return render(request, "blend/partials/curve.html", {"curve": worked.curve()})
    if add or taken:
        response = render(
            request, "blend/partials/desk.html", _context(worked, add=add, taken=taken)
        )
        response["HX-Retarget"], response["HX-Reswap"] = "#desk", "outerHTML"
    else:
        response = render(request, "blend/partials/live.html", _context(worked))
    # The chart follows once nobody has typed for a moment.
    response["HX-Trigger-After-Settle"] = "blend-answered"
    response["HX-Replace-Url"] = f"{reverse('blend_page')}?{worked.link}"
    return response


@require_POST
@role_required(*BLENDS)
def blend_save(request: HttpRequest) -> HttpResponse:
    """Save the wish that was shown; staff go on to the quote, a customer to the blend."""
    desk = _desk(request)
    form = WishForm(QueryDict(request.POST.get("wish", "")), desk=desk)
    worked = visit(form)
    name = request.POST.get("name", "").strip()
    if not name or worked.question is None or worked.question.is_empty:
        problem = "Give the blend a name." if not name else "There is no wish to save yet."
        return _page(request, worked, save_problem=problem, name=name, status=400)
    blend, number = _blend_to_revise(request)
    try:
        revision = save_blend(
            acting_user=request.user,  # type: ignore[arg-type]
            name=name,
            company=desk.company(form.cleaned_data["company"]),
            wish=worked.question.body,
            today=desk.today,
            blend=blend,
            based_on=number,
            catalogue=desk.catalogue,
        )
    except BadInput as bad:
        problem = " ".join(bad.fields.values()) or bad.message
        return _page(request, worked, save_problem=problem, name=name, status=bad.status)
    messages.success(request, f"Saved as {revision}.")
    if desk.is_staff:
        return redirect(f"{reverse('quote_new')}?revision={revision.pk}")
    return redirect("blend_detail", revision.blend_id)


def _desk(request: HttpRequest) -> Desk:
    user = request.user
    assert isinstance(user, User)  # noqa: S101 - LoginRequiredMiddleware lets nobody else in
    return load_desk(user, timezone.localdate())


def _revision(user: Any, pk: str) -> BlendRevision:
    revisions = BlendRevision.objects.filter(blend__in=Blend.objects.visible_to(user))
    # A number that is none belongs to no revision.
    return get_object_or_404(
        revisions.select_related("blend"), pk=int(pk) if pk.isdecimal() and len(pk) < 10 else 0
    )


def _saved_wish(revision: BlendRevision, desk: Desk) -> QueryDict:
    data = QueryDict(mutable=True)
    typed = fields_of(revision.wish, desk.packages, desk.default_package)
    for name, values in typed.items():
        data.setlist(name, values)
    if revision.blend.company_id:
        data["company"] = str(revision.blend.company_id)
    return data


def _blend_to_revise(request: HttpRequest) -> tuple[Blend | None, int | None]:
    """The saved revision in view, when the next one of it is to be saved instead of a new."""
    if request.POST.get("as") != "revision":
        return None, None
    revision = _revision(request.user, request.POST.get("based_on", ""))
    return revision.blend, revision.number


def _page(request: HttpRequest, worked: Visit, *, status: int = 200, **more: Any) -> HttpResponse:
    # The chart takes longer than all the rest: it is asked for by itself.
    data = request.POST if request.method == "POST" else request.GET
    curve = worked.curve() if data.get("part") == CURVE else None
    context = _context(worked, **more) | {"curve": curve}
    return render(request, "blend/page.html", context, status=status)


def _context(worked: Visit, **more: Any) -> dict[str, Any]:
    form = worked.form
    return {
        "visit": worked,
        "form": form,
        "desk": form.desk,
        "nutrient_rows": [
            (key, form[f.wish_field(key, "min")], form[f.wish_field(key, "max")])
            for key in form.rows
        ],
        "recipe_rows": [
            (form[f.recipe_field("code", row)], form[f.recipe_field("pct", row)])
            for row in range(form.recipe_rows)
        ],
        "limit_rows": [
            tuple(form[f.limit_field(part, row)] for part in ("code", "min", "max"))
            for row in range(form.limit_rows)
        ],
        "more_rows": [key for key in f.MORE_ROWS if key not in form.rows],
        "company_changed": form.data.get("ship_to_of", form.company_pk) != form.company_pk,
        **more,
    }
