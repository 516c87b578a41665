"""The bell's page: what happened that is this person's work, unread on top."""

from typing import Final

from django.contrib import messages
from django.db.models import BooleanField, ExpressionWrapper, Q
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.errors import BadInput
from blendshop.notices.actions import choose, mark_all_read, mark_read
from blendshop.notices.forms import ChoicesForm, NoticeFilter, ReadForm
from blendshop.notices.kinds import kinds_for, title_of
from blendshop.notices.models import Notice
from blendshop.pages import page_of
from blendshop.roles import STAFF, role_required, roles_of

NOTICES_A_PAGE: Final = 25
_UNREAD: Final = ExpressionWrapper(Q(read_at=None), output_field=BooleanField())


@role_required(*STAFF)
@require_safe
def notice_list(request: HttpRequest) -> HttpResponse:
    """Unread first, each newest on top."""
    person = signed_in(request)
    form = NoticeFilter(request.GET, kinds=kinds_for(roles_of(person)))
    kind = form.cleaned_data["kind"] if form.is_valid() else ""
    rows = Notice.objects.filter(person=person)
    if kind:
        rows = rows.filter(kind=kind)
    page = page_of(
        rows.order_by(_UNREAD.desc(), "-at", "-pk"),
        request.GET.get("page"),
        per_page=NOTICES_A_PAGE,
        read=lambda found: found,
    )
    shown = list(page.object_list)
    context = {
        "form": form,
        "kind": kind,
        "page": page,
        "rows": [(notice, title_of(notice.kind)) for notice in shown],
        "up_to": max((notice.at.isoformat() for notice in shown), default=""),
        "has_unread": any(notice.read_at is None for notice in shown),
    }
    return render(request, "notices/notice_list.html", context)


@role_required(*STAFF)
@require_safe
def notice_open(request: HttpRequest, pk: int) -> HttpResponse:
    """To what the notice is about; it counts as read."""
    notice = mark_read(person=signed_in(request), pk=pk)
    if notice is None:
        raise Http404
    return redirect(notice.link)


@role_required(*STAFF)
@require_POST
def notices_read(request: HttpRequest) -> HttpResponse:
    """One notice (``pk``), or all that were shown, is read."""
    person = signed_in(request)
    form = ReadForm(request.POST)
    if not form.is_valid():
        raise BadInput(_("Open the notices again."))
    read = form.cleaned_data
    if read["pk"]:
        mark_read(person=person, pk=read["pk"])
    elif read["up_to"]:
        mark_all_read(person=person, kind=read["kind"], up_to=read["up_to"])
    return redirect("notice_list")


@role_required(*STAFF)
@require_http_methods(["GET", "HEAD", "POST"])
def notice_choices(request: HttpRequest) -> HttpResponse:
    """How this person is told of each kind."""
    person = signed_in(request)
    form = ChoicesForm(request.POST or None, person=person)
    if request.method == "POST" and form.is_valid():
        choose(person=person, choices=form.cleaned_data)
        messages.success(request, _("You are told as you chose from now on."))
        return redirect("notice_list")
    status = 400 if request.method == "POST" else 200
    return render(request, "notices/notice_choices.html", {"form": form}, status=status)
