"""The catalogue as a file: download, upload with a preview, all or nothing."""

from typing import Final

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from blendshop.accounts.signed_in import signed_in
from blendshop.csv_download import MARK_OF_UTF_8
from blendshop.csv_upload import MOST_BYTES, decode
from blendshop.errors import BadInput, ChangedMeanwhile
from blendshop.long_work.actions.beginning import begin
from blendshop.long_work.asking import ask_to_begin
from blendshop.long_work.models import LongWork
from blendshop.roles import role_required
from blendshop.uploads import takes_files
from formulas.models import BaseStock, Mark
from formulas.stocks.actions.upload import (
    UPLOADS,
    apply_upload,
    may_change_costs_only,
    plan_for,
)
from formulas.stocks.catalogue_work import (
    CATALOGUE_EXPORT,
    MOST_LINES_AT_ONCE,
    MOST_STOCKS_AT_ONCE,
    UPLOAD_PREVIEW,
    UPLOAD_WRITING,
    counts_in_words,
    size_words,
    table_name,
)
from formulas.stocks.cost_moves import LargeCostMoves
from formulas.stocks.forms import UploadForm
from formulas.stocks.table.export import export_catalogue
from formulas.stocks.table.fields import ANALYSIS, COLUMNS, COST, FIELDS, TRAITS
from formulas.stocks.table.preview import UploadPreview, preview_of
from formulas.stocks.table.table import read_lines

_LINES_A_PAGE: Final = 200
#: Where the uploaded table waits for its confirmation.
SESSION_KEY = "catalogue_table"


@require_http_methods(["GET", "HEAD", "POST"])
@role_required(*UPLOADS)
def stock_export(request: HttpRequest) -> HttpResponse:
    """The current catalogue, for the office its costs; uploaded again it changes nothing.

    A worker writes a large one, once somebody posts.
    """
    if (stocks := BaseStock.objects.count()) > MOST_STOCKS_AT_ONCE:
        if request.method != "POST":
            return ask_to_begin(request, CATALOGUE_EXPORT, size_words(stocks))
        return _to(begin(CATALOGUE_EXPORT, asked_by=signed_in(request), arguments={}))
    today = timezone.localdate()
    costs_only = may_change_costs_only(signed_in(request))
    text = MARK_OF_UTF_8 + export_catalogue(today, costs_only=costs_only)
    name = table_name(today, costs_only=costs_only)
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return HttpResponse(text, content_type="text/csv; charset=utf-8", headers=headers)


@require_http_methods(["GET", "HEAD", "POST"])
@role_required(*UPLOADS)
@takes_files(MOST_BYTES)
def stock_upload(request: HttpRequest) -> HttpResponse:
    """First POST: the file, answered by a preview. Second POST: its confirmation."""
    if request.method != "POST":
        return _form_page(request, UploadForm())
    if "confirm" in request.POST:
        return _confirm(request)
    form = UploadForm(request.POST, request.FILES)
    if not form.is_valid():
        return _form_page(request, form, status=400)
    try:
        text = decode(form.cleaned_data["table"].read(MOST_BYTES + 1))
        if len(read_lines(text)) > MOST_LINES_AT_ONCE:
            return _to(_preview_by_a_worker(request, text))
        return _preview(request, text)
    except BadInput as error:
        form.add_error("table", error.message)
        return _form_page(request, form, status=400)


@require_http_methods(["GET", "HEAD", "POST"])
@role_required(*UPLOADS)
def stock_upload_preview(request: HttpRequest, pk: int) -> HttpResponse:
    """The preview of a large table that a worker made; POST confirms it, and a worker writes it."""
    user = signed_in(request)
    previews = LongWork.objects.visible_to(user).filter(kind=UPLOAD_PREVIEW.name)
    work = get_object_or_404(previews, pk=pk, state=LongWork.State.DONE)
    if request.method == "POST":
        digest, sure = request.POST.get("digest", ""), request.POST.get("sure", "")
        with work.upload.open("rb") as table:
            writing = begin(
                UPLOAD_WRITING,
                asked_by=user,
                arguments={"digest": digest, "sure": sure},
                same_as=f"{pk} {digest} {sure}",
                upload=table.read(),
            )
        return _to(writing)
    preview = UploadPreview.from_json(work.result)
    return _preview_page(request, preview, per_page=_LINES_A_PAGE)


def _preview_by_a_worker(request: HttpRequest, text: str) -> LongWork:
    return begin(UPLOAD_PREVIEW, asked_by=signed_in(request), arguments={}, upload=text.encode())


def _to(work: LongWork) -> HttpResponse:
    return redirect("work_detail", pk=work.pk)


def _confirm(request: HttpRequest) -> HttpResponse:
    text = request.session.get(SESSION_KEY)
    if text is None:
        messages.error(request, _("There is no table waiting to be confirmed; upload it again."))
        return redirect("stock_upload")
    try:
        plan = apply_upload(
            acting_user=signed_in(request),
            text=text,
            seen_digest=request.POST.get("digest", ""),
            sure_of=request.POST.get("sure", ""),
        )
    except (BadInput, ChangedMeanwhile) as error:
        messages.error(request, error.message)
        return _preview(request, text)
    except LargeCostMoves:  # the preview asks
        return _preview(request, text, status=409)
    del request.session[SESSION_KEY]
    messages.success(request, counts_in_words(plan.counts))
    return redirect("stock_costs" if may_change_costs_only(signed_in(request)) else "stock_list")


def _preview(request: HttpRequest, text: str, status: int = 200) -> HttpResponse:
    plan = plan_for(signed_in(request), text)
    request.session[SESSION_KEY] = text
    status = 400 if plan.errors else status
    return _preview_page(request, preview_of(plan), per_page=MOST_LINES_AT_ONCE, status=status)


def _preview_page(
    request: HttpRequest, preview: UploadPreview, *, per_page: int, status: int = 200
) -> HttpResponse:
    lines = Paginator(preview.errors or preview.changes, per_page)
    context = {"preview": preview, "page": lines.get_page(request.GET.get("page"))}
    return render(request, "formulas/stocks/stock_upload_preview.html", context, status=status)


def _form_page(request: HttpRequest, form: UploadForm, status: int = 200) -> HttpResponse:
    context = {
        "form": form,
        "costs_only": may_change_costs_only(signed_in(request)),
        "columns": COLUMNS,
        "fields": [*FIELDS, TRAITS, f"{ANALYSIS}N.urea", COST],
        "marks": list(Mark),
    }
    return render(request, "formulas/stocks/stock_upload.html", context, status=status)
