"""Saved blends: the list, one blend with its revisions, renaming and archiving."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.errors import BadInput
from blendshop.pages import page_of
from blendshop.roles import BLENDS, SEES_COST, has_role, role_required
from formulas.access import get_blend_for, may_read_wish
from formulas.blends.actions import (
    archive_blend,
    rename_blend,
    review_recipe,
    take_back_review,
)
from formulas.blends.analysis_rows import analysis_rows
from formulas.blends.forms import BlendSearch, RenameForm, ReviewForm
from formulas.blends.reprice import reprice_revisions
from formulas.blends.reviews import REVIEWERS, newest_words
from formulas.blends.search import search_blends
from formulas.engine_bridge import load_catalogue
from formulas.jar_tests.actions import REGISTRARS
from formulas.jar_tests.forms import StorageForm
from formulas.models import Blend, BlendRevision
from formulas.models.blend import BlendQuerySet

BLENDS_PER_PAGE = 25


@require_safe
def blend_list(request: HttpRequest) -> HttpResponse:
    """Blends the person may see, by name, grade or customer."""
    form = BlendSearch(request.GET, user=signed_in(request))
    form.is_valid()  # a search that cannot be read is no search
    blends = search_blends(
        signed_in(request),
        words=form.cleaned_data.get("q", ""),
        company=form.cleaned_data.get("company"),
        archived=form.cleaned_data.get("archived", False),
    )
    page = page_of(
        blends,
        request.GET.get("page"),
        per_page=BLENDS_PER_PAGE,
        read=BlendQuerySet.with_latest,
    )
    return render(request, "formulas/blends/blend_list.html", {"form": form, "page": page})


@require_safe
def blend_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """One blend; ``?revision=2`` shows an older revision."""
    blend = get_blend_for(signed_in(request), pk)
    revisions = list(blend.revisions.select_related("created_by"))
    return _blend_page(request, blend, revisions, _chosen(revisions, request))


@require_POST
@role_required(*BLENDS)
def blend_rename(request: HttpRequest, pk: int) -> HttpResponse:
    blend = get_blend_for(signed_in(request), pk)
    form = RenameForm(request.POST)
    if not form.is_valid():
        messages.error(request, " ".join(str(error) for error in form.errors["name"]))
        return redirect("blend_detail", pk=blend.pk)
    try:
        rename_blend(acting_user=signed_in(request), blend=blend, name=form.cleaned_data["name"])
        messages.success(request, _("The blend has a new name."))
    except BadInput as error:
        messages.error(request, " ".join(error.fields.values()) or error.message)
    return redirect("blend_detail", pk=blend.pk)


@require_POST
@role_required(*BLENDS)
def blend_archive(request: HttpRequest, pk: int) -> HttpResponse:
    blend = get_blend_for(signed_in(request), pk)
    blend = archive_blend(
        acting_user=signed_in(request), blend=blend, archived=request.POST.get("archived") == "yes"
    )
    state = _("archived") if blend.archived else _("back in the list")
    messages.success(request, _("{name} is {state}.").format(name=blend.name, state=state))
    return redirect("blend_detail", pk=blend.pk)


@require_POST
@role_required(*REVIEWERS)
def blend_review(request: HttpRequest, pk: int) -> HttpResponse:
    """A formulator's word on one revision: reviewed, or the review taken back."""
    user = signed_in(request)
    blend = get_blend_for(user, pk)
    word = ReviewForm(request.POST)
    if not word.is_valid():
        raise BadInput(_("Open the blend again; the form was incomplete."))
    revision = get_object_or_404(blend.revisions, number=word.cleaned_data["revision"])
    note = word.cleaned_data["note"]
    if word.cleaned_data["do"] == "take_back":
        take_back_review(acting_user=user, revision=revision, note=note)
        messages.success(
            request, _("The review of {revision} is taken back.").format(revision=revision)
        )
    else:
        review_recipe(acting_user=user, revision=revision, note=note)
        messages.success(request, _("{revision} is reviewed.").format(revision=revision))
    if word.cleaned_data["from_queue"]:
        return redirect("requests_waiting")
    return redirect(f"{reverse('blend_detail', args=[blend.pk])}?revision={revision.number}")


def _chosen(revisions: list[BlendRevision], request: HttpRequest) -> BlendRevision:
    wanted = request.GET.get("revision")
    for revision in revisions:
        is_wanted = wanted == str(revision.number)
        if is_wanted or (wanted is None and not revision.for_order_only):
            return revision
    raise Http404("There is no such revision.")


def _blend_page(
    request: HttpRequest, blend: Blend, revisions: list[BlendRevision], chosen: BlendRevision
) -> HttpResponse:
    catalogue = load_catalogue(timezone.localdate())
    (repriced,) = reprice_revisions([chosen], catalogue)
    storage_form = StorageForm.read(request.GET)
    solved = chosen.solved
    recipe = dict(chosen.lines.values_list("stock__code", "pct"))
    context = {
        "blend": blend,
        "revisions": revisions,
        "chosen": chosen,
        "is_latest": chosen == blend.latest,
        "shown": solved if has_role(signed_in(request), *SEES_COST) else solved.without_costs(),
        "analysis": analysis_rows(solved),
        "repriced": repriced,
        "storage_form": storage_form,
        "storage": storage_form.check(recipe),
        "may_register": has_role(signed_in(request), *REGISTRARS),
        "rename_form": RenameForm(initial={"name": blend.name}),
        "review": newest_words([chosen]).get(chosen.pk),
        "may_review": has_role(signed_in(request), *REVIEWERS),
        "may_open": may_read_wish(signed_in(request), chosen),
        "sources": solved.stock_names,
    }
    return render(request, "formulas/blends/blend_detail.html", context)
