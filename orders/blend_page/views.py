"""The blend page: what is asked on the left, the answer beside it, saved when it is right."""

from typing import Any, Final
from urllib.parse import urlencode, urlsplit

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe
from django_htmx.middleware import HtmxDetails

from blendshop.accounts.models import User
from blendshop.accounts.signed_in import signed_in
from blendshop.errors import BadInput
from blendshop.one_at_a_time import one_at_a_time
from blendshop.roles import BLENDS, has_role, role_required
from formulas.access import get_draft_for, get_revision_for, require_may_read_wish
from formulas.blends.actions import save_blend, save_draft_wish
from formulas.jar_tests.actions import REGISTRARS
from formulas.models import BlendRevision, DraftWish
from orders.blend_page import fields as f
from orders.blend_page.page_options import PageOptions, load_page_options
from orders.blend_page.page_state import (
    ADD,
    TAKE,
    PageState,
    state_of,
    with_applied_alternative,
)
from orders.blend_page.quick_entry import HEARD, with_quick_entry
from orders.blend_page.saved import typed_again
from orders.blend_page.sprayed_query import sprayed_query
from orders.blend_page.to_save import contract_of, typed_wish
from orders.blend_page.usual_name import usual_name
from orders.blend_page.wish_form import WishForm
from orders.compliance.questions import FIRST, MORE
from orders.customers.actions import remember_spraying
from orders.quoting.actions.refusals import WRITES_QUOTES
from orders.quoting.large_quantities import Asked, asked_about
from orders.records.sent_once import key_of_sent

#: Parts of the page that are asked for by themselves, after the answer stands on the page.
CURVE: Final = "curve"
RELEASE: Final = "release"
LABEL: Final = "label"
STOCK: Final = "stock"
PARTS: Final = (CURVE, RELEASE, LABEL, STOCK)
_MOST_DRAFTS: Final = 6
_LONGEST_NOTE: Final = 300


@require_safe
@role_required(*BLENDS)
@one_at_a_time
def blend_page(request: HttpRequest) -> HttpResponse:
    """The whole page; a link carries its wish, ``?revision=`` or ``?draft=`` a saved one."""
    options, sent = _options(request), request.GET
    data: QueryDict = sent
    if "revision" in sent:
        revision = get_revision_for(signed_in(request), sent["revision"])
        require_may_read_wish(signed_in(request), revision)
        data = typed_again(revision.wished, revision.blend.company_id, options)
        data["based_on"] = str(revision.pk)
    elif kept := sent.get("draft") or sent.get("parked"):  # what older links call it
        draft = get_draft_for(signed_in(request), kept)
        require_may_read_wish(signed_in(request), draft)
        data = typed_again(draft.wished, draft.company_id, options)
    return _page(request, state_of(WishForm(data, options=options)))


@require_http_methods(["GET", "HEAD", "POST"])
@role_required(*BLENDS)
@one_at_a_time
def blend_answer(request: HttpRequest) -> HttpResponse:
    """The answer alone for htmx; the whole page for everybody else, or when rows changed."""
    data = request.POST if request.method == "POST" else request.GET
    add, taken = data.get(ADD, ""), TAKE in data
    options = _options(request)
    said = with_quick_entry(with_applied_alternative(data), options)
    rewritten = bool(add or taken or said is not data)
    worked = state_of(WishForm(said, options=options, add=add, focus=not (taken or HEARD in said)))
    extra: dict[str, Any] = {"add": add, "taken": taken}
    if not HtmxDetails(request):
        return _page(request, worked, **extra)
    if (part := data.get("part")) in PARTS:
        shown = _part(worked, str(part)) | {"is_part": True}
        return render(request, f"orders/blend_page/partials/{part}.html", shown)
    context = _context(request, worked, **extra)
    if rewritten:
        response = render(request, "orders/blend_page/partials/workspace.html", context)
        response["HX-Retarget"], response["HX-Reswap"] = "#workspace", "outerHTML"
    else:
        response = render(request, "orders/blend_page/partials/live.html", context)
    # The chart follows once nobody has typed for a moment.
    response["HX-Trigger-After-Settle"] = "blend-answered"
    response[_moved(request, worked, is_step=rewritten)] = f"{reverse('blend_page')}?{worked.link}"
    return response


def _moved(request: HttpRequest, worked: PageState, *, is_step: bool) -> str:
    """How the address follows: Back leads to the wish a line, a chip or an alternative changed.

    What is typed into a field replaces the address, as does a step that leaves the wish as it was.
    """
    before = urlsplit(request.headers.get("HX-Current-URL", "")).query
    is_changed = before != worked.link
    return "HX-Push-Url" if is_step and is_changed else "HX-Replace-Url"


@require_POST
@role_required(*BLENDS)
@one_at_a_time
def blend_save(request: HttpRequest) -> HttpResponse:
    """Save the wish that was shown; staff go on to the quote, a customer to the blend."""
    worked = typed_wish(request.POST, _options(request))
    name = request.POST.get("name", "").strip()
    if asked := _asked_about(request, worked):
        return _page(request, worked, save_problem=asked.words, meant=asked.meant, name=name)
    try:
        if request.POST.get("as") == "wish":
            draft = _draft(request, worked, name)
            messages.success(
                request, _("Kept as the draft {name}: see the blend page.").format(name=draft.name)
            )
            return redirect("blend_page")
        revision = _saved(request, worked, name)
    except BadInput as bad:
        problem = " ".join(bad.fields.values()) or bad.message
        return _page(request, worked, save_problem=problem, name=name, status=bad.status)
    _remember(request, worked)
    messages.success(request, _("Saved as {revision}.").format(revision=revision))
    if has_role(_user(request), *WRITES_QUOTES):
        return redirect(f"{reverse('quote_new')}?{_quote_query(worked, revision)}")
    return redirect("blend_detail", revision.blend_id)


def _asked_about(request: HttpRequest, worked: PageState) -> Asked | None:
    """A quantity that is rather a slip; a wish that is only kept may have any."""
    package = worked.price.package if worked.price else None
    if package is None or request.POST.get("as") == "wish":
        return None
    quantity = worked.form.cleaned_data["quantity"]
    return asked_about([(package, quantity)], request.POST.get("meant", ""))


def _quote_query(worked: PageState, revision: BlendRevision) -> str:
    """What the page knows and the quote would ask again."""
    data = worked.form.data
    known = {name: data.get(name, "") for name in ("package", "quantity", "company", "ship_to")}
    known["n_rate"] = data.get("n_rate", "") if "n_rate" not in worked.form.errors else ""
    query = {"revision": revision.pk} | {name: value for name, value in known.items() if value}
    return urlencode(query | sprayed_query(data))


def _saved(request: HttpRequest, worked: PageState, name: str) -> BlendRevision:
    """A new blend, or the next revision of the one the page was opened from."""
    wish, based_on = contract_of(worked), None
    company = worked.form.options.company(worked.form.cleaned_data["company"])
    if request.POST.get("as") == "revision":
        based_on = get_revision_for(signed_in(request), worked.form.data.get("based_on", ""))
    return save_blend(
        acting_user=_user(request),
        name=name or usual_name(worked.grade, worked.slow_pct, company),
        company=company,
        wish=wish,
        note=_note(worked),
        today=worked.form.options.today,
        blend=None if based_on is None else based_on.blend,
        based_on=None if based_on is None else based_on.number,
        catalogue=worked.form.options.catalogue,
        once_key=key_of_sent(_user(request), request.POST),
    )


def _remember(request: HttpRequest, worked: PageState) -> None:
    """The customer's next wish begins as this one was sprayed."""
    cleaned = worked.form.cleaned_data
    company = worked.form.options.company(cleaned["company"])
    rate, carrier = cleaned.get("n_rate"), cleaned.get("carrier")
    if company is not None and rate is not None and carrier is not None:
        place = worked.law.place if worked.law else None
        typed = place.address if place is not None and place.is_typed else None
        remember_spraying(
            acting_user=_user(request),
            company=company,
            n_rate_lb=rate,
            carrier_gal=carrier,
            state=typed.state if typed else "",
            county=typed.county if typed else "",
            place=typed.place if typed else "",
        )


def _draft(request: HttpRequest, worked: PageState, name: str) -> DraftWish:
    if not name:
        raise BadInput(_("Give the wish a name."))
    return save_draft_wish(
        acting_user=_user(request),
        name=name,
        company=worked.form.options.company(worked.form.cleaned_data["company"]),
        wish=contract_of(worked),
        today=worked.form.options.today,
        catalogue=worked.form.options.catalogue,
    )


def _note(worked: PageState) -> str:
    """What a reader of the saved blend should know of its wish: what the law and a margin did."""
    notes = []
    legal = worked.law.legal if worked.law else None
    if legal is not None and legal.limits and legal.place is not None:
        rate = worked.form.data.get("n_rate", "")
        notes.append(f"Limits by law of {legal.place.words} at {rate} lb N: {legal.words}.")
    if worked.on_hand is not None:
        notes.append(f"Limited to the stock on hand on {worked.form.options.today.isoformat()}.")
    if worked.margin is not None:
        notes.append(f"With margin: chance of missing any guarantee {worked.margin.chance}.")
    return " ".join(notes)[:_LONGEST_NOTE]


def _user(request: HttpRequest) -> User:
    assert isinstance(request.user, User)  # noqa: S101 - LoginRequiredMiddleware lets nobody else in
    return request.user


def _options(request: HttpRequest) -> PageOptions:
    return load_page_options(_user(request), timezone.localdate())


def _page(
    request: HttpRequest, worked: PageState, *, status: int = 200, **more: Any
) -> HttpResponse:
    # The charts take longer than all the rest: each part is asked for by itself.
    data = request.POST if request.method == "POST" else request.GET
    context = _context(request, worked, **more) | _part(worked, data.get("part", ""))
    return render(request, "orders/blend_page/page.html", context, status=status)


def _part(worked: PageState, part: str) -> dict[str, Any]:
    """The context of one part; empty for anything else."""
    if part == CURVE:
        return {"curve": worked.curve(), "wish_prices": worked.wish_prices()}
    if part == RELEASE:
        return {"release": worked.release(), "form": worked.form}
    if part == LABEL:
        return {"label": worked.label()}
    if part == STOCK:
        return {"allows": worked.as_stock_allows(), "state": worked}
    return {}


def _context(request: HttpRequest, worked: PageState, **more: Any) -> dict[str, Any]:
    form = worked.form
    based_on = form.data.get("based_on", "")
    return {
        "state": worked,
        "form": form,
        "options": form.options,
        "revision": get_revision_for(signed_in(request), based_on) if based_on else None,
        "drafts": DraftWish.objects.visible_to(_user(request))[:_MOST_DRAFTS],
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
        "first_questions": [form[question.field] for question in FIRST],
        "more_questions": [form[question.field] for question in MORE],
        "soil_months": [form[f.soil_field(month)] for month in range(f.SOIL_MONTHS)],
        "only_said": [(name, form.typed[name]) for name in f.ONLY_SAID if form.typed.get(name)],
        "may_quote": has_role(_user(request), *WRITES_QUOTES),
        "may_register": has_role(_user(request), *REGISTRARS),
        "name": request.POST.get("name", ""),
        "company_changed": form.data.get("ship_to_of", form.company_pk) != form.company_pk,
        **more,
    }
