"""A season: its page, head, rounds, copy and paper."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from blendshop.accounts.models import Company, User
from blendshop.accounts.signed_in import signed_in
from blendshop.downloads import private_pdf
from blendshop.languages.choice import choice_for, choice_of
from blendshop.roles import Role, has_role, role_required
from blendshop.searched_rows import options_page, typed_words
from orders.models import ProgramRound, SeasonProgram
from orders.quoting.forms import of_blends_named, offered_revisions, revision_words
from orders.records.access import get_customer_for
from orders.records.forms import Refusals, require_valid
from orders.season.access import (
    SEES_SEASONS,
    get_program_for,
    get_round_for,
    require_free,
    require_may_change,
    require_not_released,
)
from orders.season.actions.programs import (
    copy_program,
    drop_round,
    save_program,
    save_round,
    save_rows,
)
from orders.season.forms import ProgramForm, RatesForm, RoundForm, RowsForm
from orders.season.page import rights, season_page
from orders.season.season_pdf import render_season


@role_required(*SEES_SEASONS)
@require_safe
def season_program(request: HttpRequest, pk: int) -> HttpResponse:
    """The season as it stands today: totes, dollars an acre, limits, what to change."""
    user = signed_in(request)
    return program_page(request, user, get_program_for(user, pk))


def program_page(
    request: HttpRequest,
    user: User,
    program: SeasonProgram,
    *,
    rows: RowsForm | None = None,
    status: int = 200,
) -> HttpResponse:
    """The page of a season; ``rows`` is a form of its rounds that was refused."""
    page = season_page(program, timezone.localdate())
    rounds = [each.figures.round for each in page.rounds]
    context = {
        "page": page,
        "program": program,
        "rows": rows or RowsForm(None, rounds=rounds),
        **rights(user, program),
    }
    return render(request, "orders/season/season_program.html", context, status=status)


@role_required(*SEES_SEASONS)
@require_http_methods(["GET", "HEAD", "POST"])
def season_program_new(request: HttpRequest, pk: int) -> HttpResponse:
    """A new season of a customer."""
    company = get_customer_for(signed_in(request), pk)
    return _program_form(request, company, None)


@role_required(*SEES_SEASONS)
@require_http_methods(["GET", "HEAD", "POST"])
def season_program_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Name, year, place, package and properties."""
    program = get_program_for(signed_in(request), pk)
    require_free(program)
    return _program_form(request, program.company, program)


def _program_form(
    request: HttpRequest, company: Company, program: SeasonProgram | None
) -> HttpResponse:
    user = signed_in(request)
    require_may_change(user, company)
    sent = request.POST if request.method == "POST" else None
    row = program or SeasonProgram(company=company, year=timezone.localdate().year, made_by=user)
    form = ProgramForm(sent, instance=row, company=company)
    refusals, saved = Refusals(form), []
    if sent is not None and refusals.taken(
        lambda typed: saved.append(
            save_program(acting_user=user, company=company, program=program, **typed)
        )
    ):
        messages.success(request, _("{program} is saved.").format(program=saved[0]))
        return redirect("season_program", saved[0].pk)
    status = refusals.status if sent is not None else 200
    context = {"form": form, "company": company, "program": program}
    return render(request, "orders/season/season_form.html", context, status=status)


@role_required(*SEES_SEASONS)
@require_POST
def season_rows(request: HttpRequest, pk: int) -> HttpResponse:
    """Names, days and rates as they stand in the rows of the page."""
    user = signed_in(request)
    program = get_program_for(user, pk)
    rounds = program.rounds.select_related("reserved_as__order").order_by("on", "pk")
    form = RowsForm(request.POST, rounds=list(rounds))
    refusals = Refusals(form)
    if refusals.taken(lambda _typed: save_rows(acting_user=user, program=program, rows=form.rows)):
        messages.success(request, _("The rounds are saved."))
        return redirect("season_program", pk)
    return program_page(request, user, program, rows=form, status=refusals.status)


@role_required(*SEES_SEASONS)
@require_POST
def season_rates(request: HttpRequest, pk: int) -> HttpResponse:
    """Take over the rates that fit, as the page offers them."""
    user = signed_in(request)
    program = get_program_for(user, pk)
    form = RatesForm(request.POST, rounds=list(program.rounds.all()))
    require_valid(form)
    save_rows(acting_user=user, program=program, rows=form.rows)
    messages.success(request, _("The rates are taken over."))
    return redirect("season_program", pk)


@role_required(*SEES_SEASONS)
@require_safe
def season_blend_options(request: HttpRequest, pk: int) -> HttpResponse:
    """Blends for a round that fit what is typed."""
    user = signed_in(request)
    program = get_program_for(user, pk)
    offered = offered_revisions(user, program.company_id)
    found = of_blends_named(offered, typed_words(request))
    return options_page(request, found, revision_words, among=offered)


@role_required(*SEES_SEASONS)
@require_http_methods(["GET", "HEAD", "POST"])
def season_round_new(request: HttpRequest, pk: int) -> HttpResponse:
    """Add a round."""
    return _round_form(request, get_program_for(signed_in(request), pk), None)


@role_required(*SEES_SEASONS)
@require_http_methods(["GET", "HEAD", "POST"])
def season_round(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a round: also its blend, and what it does not treat."""
    row = get_round_for(signed_in(request), pk)
    return _round_form(request, row.program, row)


def _round_form(
    request: HttpRequest, program: SeasonProgram, row: ProgramRound | None
) -> HttpResponse:
    user = signed_in(request)
    require_may_change(user, program.company)
    require_free(program)
    if row is not None:
        require_not_released(row)
    sent = request.POST if request.method == "POST" else None
    form = RoundForm(sent, user=user, program=program, row=row)
    refusals = Refusals(form)

    def save(typed: dict[str, Any]) -> None:
        chosen = typed.pop("revision")
        if chosen is None and row is not None:
            chosen = row.revision
        save_round(acting_user=user, program=program, row=row, revision=chosen, **typed)

    if sent is not None and refusals.taken(save):
        messages.success(request, _("{name} is saved.").format(name=form.cleaned_data["name"]))
        return redirect("season_program", program.pk)
    status = refusals.status if sent is not None else 200
    context = {"form": form, "program": program, "row": row}
    return render(request, "orders/season/season_round.html", context, status=status)


@role_required(*SEES_SEASONS)
@require_POST
def season_round_drop(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a round out."""
    user = signed_in(request)
    row = get_round_for(user, pk)
    drop_round(acting_user=user, row=row)
    messages.success(request, _("{name} is taken out.").format(name=row.name))
    return redirect("season_program", row.program_id)


@role_required(*SEES_SEASONS)
@require_POST
def season_copy(request: HttpRequest, pk: int) -> HttpResponse:
    """The same season a year later."""
    user = signed_in(request)
    made = copy_program(acting_user=user, program=get_program_for(user, pk))
    messages.success(
        request, _("{program} is copied: every round a year later.").format(program=made)
    )
    return redirect("season_program", made.pk)


@role_required(*SEES_SEASONS)
@require_safe
def season_pdf(request: HttpRequest, pk: int) -> HttpResponse:
    """The season on paper as it stands today: a customer's person gets it in the own language,
    the plant in the company's."""
    user = signed_in(request)
    program = get_program_for(user, pk)
    is_own = has_role(user, Role.CUSTOMER)
    choice = choice_of(user) if is_own else choice_for(program.company)
    today = timezone.localdate()
    return private_pdf(render_season(season_page(program, today), today, choice), f"season-{pk}")
