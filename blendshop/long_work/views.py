"""Work under way: a list, a page with its progress, the fragment it asks for, the file it made."""

from pathlib import Path
from typing import Any, Final

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe
from django_htmx.http import HttpResponseClientRedirect

from blendshop.accounts.signed_in import signed_in
from blendshop.downloads import private_file
from blendshop.long_work.actions.beginning import call_off, try_again
from blendshop.long_work.kinds import kind_of
from blendshop.long_work.models import LongWork
from blendshop.long_work.progress import progress_of
from blendshop.pages import page_of

_PER_PAGE: Final = 30
_CONTENT_TYPES: Final = {".csv": "text/csv; charset=utf-8", ".pdf": "application/pdf"}


@require_safe
def work_list(request: HttpRequest) -> HttpResponse:
    """The own work and what is shared, the newest first."""
    seen = LongWork.objects.visible_to(signed_in(request)).order_by("-pk")
    page = page_of(
        seen,
        request.GET.get("page"),
        per_page=_PER_PAGE,
        read=lambda rows: rows.defer("arguments", "result"),
    )
    rows = [(work, kind_of(work.kind)) for work in page.object_list]
    return render(request, "long_work/work_list.html", {"page": page, "rows": rows})


@require_safe
def work_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """Progress while it is open; done, it leads on to what came out."""
    work = _work(request, pk)
    kind = kind_of(work.kind)
    if work.state == LongWork.State.DONE and kind.leads_to:
        return redirect(kind.leads_to(work))
    context: dict[str, Any] = {"work": work, "kind": kind}
    if work.is_open:
        context["progress"] = progress_of(work)
    return render(request, "long_work/work_detail.html", context)


@require_safe
def work_progress(request: HttpRequest, pk: int) -> HttpResponse:
    """For the page's own question: how far it is; on to the page that says how it ended."""
    work = _work(request, pk)
    if not work.is_open:
        return HttpResponseClientRedirect(reverse("work_detail", args=[pk]))
    progress = progress_of(work)
    context = {
        "work": work,
        "progress": progress,
        "is_news": request.GET.get("seen") != progress.seen,
    }
    return render(request, "long_work/partials/asked_again.html", context)


@require_POST
def work_call_off(request: HttpRequest, pk: int) -> HttpResponse:
    """End it without an answer."""
    call_off(_work(request, pk), acting_user=signed_in(request))
    return redirect("work_detail", pk=pk)


@require_POST
def work_again(request: HttpRequest, pk: int) -> HttpResponse:
    """Begin anew what went wrong or was called off."""
    work = try_again(_work(request, pk), acting_user=signed_in(request))
    return redirect("work_detail", pk=work.pk)


@require_safe
def work_download(request: HttpRequest, pk: int) -> HttpResponse:
    """The file that was made."""
    work = _work(request, pk)
    if not work.download:
        raise Http404
    suffix = Path(work.download_name).suffix
    with work.download.open("rb") as file:
        content_type = _CONTENT_TYPES.get(suffix, "application/octet-stream")
        return private_file(file.read(), content_type, work.download_name)


def _work(request: HttpRequest, pk: int) -> LongWork:
    """What a person may not see is not there (404)."""
    return get_object_or_404(LongWork.objects.visible_to(signed_in(request)), pk=pk)
