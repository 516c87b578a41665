"""The catalogue as a file: download, upload with a preview, all or nothing."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.errors import BadInput, ChangedMeanwhile
from blendshop.roles import Role, role_required
from blendshop.uploads import takes_files
from formulas.models import Mark
from formulas.stocks.actions.upload import apply_upload
from formulas.stocks.forms import UploadForm
from formulas.stocks.table.export import export_catalogue
from formulas.stocks.table.fields import ANALYSIS, COLUMNS, COST, FIELDS, TRAITS
from formulas.stocks.table.plan import plan_upload
from formulas.stocks.table.table import MOST_BYTES, decode

#: Where the uploaded table waits for its confirmation.
SESSION_KEY = "catalogue_table"


@require_safe
@role_required(Role.FORMULATOR)
def stock_export(request: HttpRequest) -> HttpResponse:
    """The current catalogue; uploaded again as it is, it changes nothing."""
    today = timezone.localdate()
    # The mark tells spreadsheet programs that the text is UTF-8.
    text = "\ufeff" + export_catalogue(today)
    name = f"base-stocks-{today.isoformat()}.csv"
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return HttpResponse(text, content_type="text/csv; charset=utf-8", headers=headers)


@require_http_methods(["GET", "HEAD", "POST"])
@role_required(Role.FORMULATOR)
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
        return _preview(request, text)
    except BadInput as error:
        form.add_error("table", error.message)
        return _form_page(request, form, status=400)


def _confirm(request: HttpRequest) -> HttpResponse:
    text = request.session.get(SESSION_KEY)
    if text is None:
        messages.error(request, _("There is no table waiting to be confirmed; upload it again."))
        return redirect("stock_upload")
    try:
        plan = apply_upload(
            acting_user=signed_in(request), text=text, seen_digest=request.POST.get("digest", "")
        )
    except (BadInput, ChangedMeanwhile) as error:
        messages.error(request, error.message)
        return _preview(request, text)
    del request.session[SESSION_KEY]
    messages.success(
        request,
        _("Catalogue updated: {new} new, {changed} changed, {unchanged} as before.").format(
            new=plan.counts["new"],
            changed=plan.counts["changed"],
            unchanged=plan.counts["unchanged"],
        ),
    )
    return redirect("stock_list")


def _preview(request: HttpRequest, text: str) -> HttpResponse:
    plan = plan_upload(text)
    request.session[SESSION_KEY] = text
    is_idle = not plan.errors and plan.counts["new"] == plan.counts["changed"] == 0
    context = {"plan": plan, "is_idle": is_idle}
    status = 400 if plan.errors else 200
    return render(request, "formulas/stocks/stock_upload_preview.html", context, status=status)


def _form_page(request: HttpRequest, form: UploadForm, status: int = 200) -> HttpResponse:
    context = {
        "form": form,
        "columns": COLUMNS,
        "fields": [*FIELDS, TRAITS, f"{ANALYSIS}N.urea", COST],
        "marks": list(Mark),
    }
    return render(request, "formulas/stocks/stock_upload.html", context, status=status)
