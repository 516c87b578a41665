"""Who may open what: every route of the site times every role, in one table.

A route that is missing from the table fails the test. ``y`` is let in (whatever the answer to an
empty form), ``n`` is refused with 403 or 404, ``s`` is sent to sign in.
"""

import re
from collections.abc import Iterator, Mapping
from html import unescape
from io import BytesIO
from typing import Final

import pytest
from django.db import transaction
from django.http import HttpResponse
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from pypdf import PdfReader

from blendshop.accounts.models import Company, User
from formulas.models import Blend
from orders.demo.customers import CUSTOMERS
from orders.models import Paper
from tests.whole_site.route_arguments import arguments_of_routes
from tests.whole_site.test_no_store import is_kept_by_no_cache

# pytest-django prepares only databases that marks ask for. Whom a route lets in is a matter of
# roles; but for three plain updates every statement of its answers is sent by the rooms' own tests.
pytestmark = [pytest.mark.django_db, pytest.mark.one_database]

#: Columns: nobody signed in, own customer, other customer, rep, plant, formulator, office.
COLUMNS: Final = ("nobody", "customer", "stranger", "rep", "plant", "formulator", "office")

#: route name: (method, one letter for each column)
TABLE: Final[Mapping[str, tuple[str, str]]] = {
    "alive": ("get", "yyyyyyy"),
    "api_assay_checks": ("post", "nyyyyyy"),
    "api_docs": ("get", "nyyyyyy"),
    "api_due_dates": ("post", "nyyyyyy"),
    "api_formulations": ("post", "nnnynyy"),
    "api_label_drafts": ("post", "nyyyyyy"),
    "api_load_plans": ("post", "nnnynyy"),
    "api_schema": ("get", "nyyyyyy"),
    "api_spray_sheets": ("post", "nyyyyyy"),
    "batch_adopt_density": ("post", "snnnnyn"),
    "batch_cancel": ("post", "snnnyyn"),
    "batch_charge": ("get", "snnyyyy"),
    "batch_close": ("post", "snnnyyn"),
    "batch_correct": ("post", "snnnyyn"),
    "batch_detail": ("get", "snnyyyy"),
    "batch_go_ahead": ("post", "snnnnyy"),
    "batch_list": ("get", "snnyyyy"),
    "batch_lot": ("get", "snnnyyn"),
    "batch_lower": ("post", "snnnnyn"),
    "batch_made": ("post", "snnnyyn"),
    "batch_package_labels_pdf": ("get", "snnyyyy"),
    "batch_packages": ("get", "snnyyyy"),
    "batch_paper": ("get", "snnnyyn"),
    "batch_pick_list_pdf": ("get", "snnyyyy"),
    "batch_quality": ("get", "snnyyyy"),
    "batch_record_pdf": ("get", "snnyyyy"),
    "batch_release": ("post", "snnnyyn"),
    "batch_sample": ("get", "snnyyyy"),
    "batch_set_aside": ("post", "snnnnyn"),
    "batch_rinse": ("post", "snnnyyn"),
    "batch_reverse_charge": ("post", "snnnyyn"),
    "batch_ticket_pdf": ("get", "snnyyyy"),
    "blend_customer_options": ("get", "syyynyy"),
    "blend_tray": ("get", "syyynyy"),
    "blend_tray_drop": ("post", "syyynyy"),
    "blend_tray_keep": ("post", "syyynyy"),
    "blend_tray_quote": ("post", "snnynny"),
    "blend_ship_to_options": ("get", "syyynyy"),
    "blend_stock_options": ("get", "syyynyy"),
    "buying": ("get", "snnnyyy"),
    "buying_stock": ("get", "snnnyyy"),
    "purchase_list": ("get", "snnnnyy"),
    "purchase_list_csv": ("get", "snnnnyy"),
    "purchase_list_pdf": ("get", "snnnnyy"),
    "purchase_new": ("get", "snnnnyy"),
    "purchase_change": ("get", "snnnnyy"),
    "purchase_call_off": ("post", "snnnnyy"),
    "stock_storage": ("post", "snnnnyy"),
    "supplier_terms": ("get", "snnnnny"),
    "customer_options": ("get", "snnyyyy"),
    "quote_blend_options": ("get", "snnynny"),
    "quote_ship_to_options": ("get", "snnynny"),
    "signed_in_again": ("get", "syyyyyy"),
    "signed_in_as": ("get", "yyyyyyy"),
    "typed_again": ("get", "snnynnn"),
    "blend_answer": ("get", "syyynyy"),
    "blend_archive": ("post", "synynyy"),
    "blend_detail": ("get", "synyyyy"),
    "blend_list": ("get", "syyyyyy"),
    "blend_page": ("get", "syyynyy"),
    "blend_rename": ("post", "synynyy"),
    "blend_review": ("post", "snnnnyn"),
    "blend_save": ("post", "syyynyy"),
    "blend_storage": ("get", "syyynyy"),
    "charging_worker": ("get", "snnyyyy"),
    "cost_change": ("get", "snnynyy"),
    "cost_change_csv": ("get", "snnynyy"),
    "cost_change_done": ("get", "snnnnny"),
    "cost_change_edit": ("get", "snnnnyy"),
    "cost_change_from_table": ("post", "snnnnyy"),
    "cost_change_in_force": ("get", "snnnnyy"),
    "cost_change_list": ("get", "snnynyy"),
    "cost_change_new": ("get", "snnnnyy"),
    "cost_change_quotes": ("post", "snnnnny"),
    "cost_change_work_out": ("post", "snnnnyy"),
    "crew_list": ("get", "syyyyyy"),
    "crew_new": ("get", "synynyy"),
    "crew_phone": ("get", "yyyyyyy"),
    "crew_phone_pdf": ("get", "yyyyyyy"),
    "crew_worker": ("get", "yyyyyyy"),
    "crew_record_correct": ("get", "synynny"),
    "crew_records": ("get", "syyynny"),
    "crew_records_csv": ("get", "syyynny"),
    "crew_sheet": ("get", "synyyyy"),
    "crew_sheet_close": ("post", "synynyy"),
    "crew_sheet_pdf": ("get", "synyyyy"),
    "change_log": ("get", "snnnnyy"),
    "change_take_back": ("get", "snnnnyy"),
    "customer_add_person": ("post", "snnynny"),
    "customer_add_ship_to": ("get", "snnynny"),
    "customer_detail": ("get", "snnynny"),
    "colleagues": ("get", "syynnnn"),
    "colleague_login": ("post", "synnnnn"),
    "colleague_may_order": ("post", "synnnnn"),
    "customer_owner": ("post", "snnnnny"),
    "own_mails": ("get", "syynnnn"),
    "own_place": ("get", "synnnnn"),
    "own_place_new": ("get", "syynnnn"),
    "own_places": ("get", "syynnnn"),
    "own_questions": ("get", "syynnnn"),
    "question_answer": ("post", "snnynny"),
    "blend_sheets": ("get", "snnyyyy"),
    "safety_sheet": ("get", "synyyyy"),
    "stock_sheets": ("get", "snnyyyy"),
    "customer_home": ("get", "syynnnn"),
    "papers_by_lot": ("get", "syynnnn"),
    "customer_edit": ("get", "snnynny"),
    "customer_limits": ("get", "snnnnny"),
    "customer_limits_confirm": ("post", "snnnnny"),
    "customer_list": ("get", "snnynny"),
    "customer_mail_resend": ("post", "snnynny"),
    "customer_may_order": ("post", "snnnnny"),
    "customer_new": ("get", "snnynny"),
    "customer_ship_to": ("get", "snnynny"),
    "customer_terms": ("get", "snnnnny"),
    "day_setting": ("get", "snnnnny"),
    "drift_adopt": ("get", "snnnnyn"),
    "drift_list": ("get", "snnyyyy"),
    "drift_stock": ("get", "snnyyyy"),
    "delivery_setting": ("get", "snnnnny"),
    "fee_setting": ("get", "snnnnny"),
    "first_steps": ("get", "snnyyyy"),
    "handover_notes": ("get", "snnnyyy"),
    "handover_read": ("post", "snnnyyy"),
    "home": ("get", "syyyyyy"),
    "jar_test_detail": ("get", "snnyyyy"),
    "jar_test_list": ("get", "snnyyyy"),
    "jar_test_photo": ("get", "snnyyyy"),
    "jar_test_register": ("get", "snnyyyn"),
    "jar_test_withdraw": ("post", "snnnnyn"),
    "label_approve": ("post", "snnnnyn"),
    "label_change": ("post", "snnnnyn"),
    "label_detail": ("get", "snnyyyy"),
    "label_letter_pdf": ("get", "snnyyyy"),
    "label_placard_pdf": ("get", "snnyyyy"),
    "label_small_pdf": ("get", "snnyyyy"),
    "label_withdraw": ("post", "snnnnyn"),
    "labels_waiting": ("get", "snnyyyy"),
    "limits_list": ("get", "snnnnny"),
    "lot_adjust": ("post", "snnnyyy"),
    "lot_certificate": ("get", "snnnyyy"),
    "lot_count": ("post", "snnnyyy"),
    "lot_detail": ("get", "snnyyyy"),
    "lot_extend": ("post", "snnnnyn"),
    "lot_file": ("get", "snnyyyy"),
    "lot_hold": ("post", "snnnyyy"),
    "lot_label_pdf": ("get", "snnyyyy"),
    "lot_list": ("get", "snnyyyy"),
    "lot_receive": ("get", "snnnyyy"),
    "lot_release": ("post", "snnnnyn"),
    "lot_transfer": ("post", "snnnyyn"),
    "mfa_activate_totp": ("get", "syyyyyy"),
    "mfa_add_webauthn": ("get", "syyyyyy"),
    "mfa_authenticate": ("get", "syyyyyy"),
    "mfa_deactivate_totp": ("get", "snnnnnn"),  # nobody of the demo has one
    "mfa_generate_recovery_codes": ("get", "syyyyyy"),
    "mfa_index": ("get", "syyyyyy"),
    "mfa_list_webauthn": ("get", "syyyyyy"),
    "mfa_reauthenticate": ("get", "syyyyyy"),
    "mfa_reauthenticate_webauthn": ("get", "syyyyyy"),
    "mfa_remove_webauthn": ("post", "syyyyyy"),
    "mfa_view_recovery_codes": ("get", "snnnnnn"),
    "metrics": ("get", "nnnnnnn"),
    "order_answer": ("post", "snnynny"),
    "order_ask": ("post", "synnnnn"),
    "order_board": ("get", "syyyyyy"),
    "order_cancel": ("post", "snnynny"),
    "order_cancel_own": ("post", "synnnnn"),
    "order_change": ("get", "synnnnn"),
    "order_detail": ("get", "synyyyy"),
    "order_due": ("post", "snnyyny"),
    "notice_choices": ("get", "snnyyyy"),
    "notice_list": ("get", "snnyyyy"),
    "notice_open": ("get", "snnnnny"),
    "notices_read": ("post", "snnyyyy"),
    "open_quote_margins": ("get", "snnynyy"),
    "mail_list": ("get", "snnnnny"),
    "mail_resend": ("post", "snnnnny"),
    "mail_set_aside": ("post", "snnnnny"),
    "order_mail_resend": ("post", "snnyyyy"),
    "order_packing_list_pdf": ("get", "snnyyyy"),
    "order_plan": ("post", "snnnyyy"),
    "order_ship": ("post", "snnnyny"),
    "own_session_end": ("post", "snnnnnn"),  # another's session is not there
    "own_sign_in": ("get", "syyyyyy"),
    "own_language": ("get", "syyyyyy"),
    "own_phone": ("get", "snnynny"),
    "package_setting": ("get", "snnnnny"),
    "package_page": ("get", "synyyyy"),
    "paper": ("get", "synynyy"),
    "part_certificate_pdf": ("get", "snnyyyy"),
    "part_page": ("get", "synyyyy"),
    "people_setting": ("get", "snnnnny"),
    "plant_profile": ("get", "snnnnny"),
    "price_blend_options": ("get", "snnnnny"),
    "price_desk": ("get", "snnnnny"),
    "price_export": ("get", "snnnnny"),
    "price_upload": ("post", "snnnnny"),
    "price_setting": ("get", "snnnnny"),
    "quote_approve": ("post", "snnnnny"),
    "quote_decide": ("post", "synynny"),
    "quote_detail": ("get", "synynyy"),
    "quote_copy": ("get", "snnynny"),
    "quote_draft_mail": ("get", "snnynny"),
    "quote_draft_pdf": ("get", "snnynny"),
    "quote_edit": ("get", "snnynny"),
    "quote_line_stock": ("get", "snnynny"),
    "quote_list": ("get", "syyynyy"),
    "quote_mail_resend": ("post", "snnynyy"),
    "quote_new": ("get", "snnynny"),
    "quote_next_version": ("post", "snnynny"),
    "quote_pdf": ("get", "synynyy"),
    "quote_public": ("get", "yyyyyyy"),
    "quote_public_pdf": ("get", "yyyyyyy"),
    "quote_send": ("post", "snnynny"),
    "quote_withdraw": ("post", "snnynny"),
    "ready": ("get", "yyyyyyy"),
    "recall_close": ("post", "snnnnyy"),
    "recall_customer": ("get", "snnyyyy"),
    "recall_detail": ("get", "snnyyyy"),
    "recall_free": ("post", "snnnnyn"),
    "recall_hold": ("post", "snnnnyy"),
    "recall_letter_pdf": ("get", "snnyyyy"),
    "recall_list": ("get", "snnyyyy"),
    "recall_open": ("get", "snnnnyy"),
    "recall_words": ("post", "snnnnyn"),
    "reorder_blend": ("get", "synynny"),
    "reorder_order": ("get", "synynny"),
    "reorder_price": ("get", "synynny"),
    "request_decide": ("post", "snnynyy"),
    "place_decide": ("post", "snnynny"),
    "requests_waiting": ("get", "snnynyy"),
    "rule_list": ("get", "snnyyyy"),
    "sample_discard": ("get", "snnnyyn"),
    "sample_list": ("get", "snnyyyy"),
    "scale_check": ("get", "snnyyyy"),
    "scale_list": ("get", "snnyyyy"),
    "search": ("get", "snnyyyy"),
    "season_blend_options": ("get", "synynny"),
    "season_copy": ("post", "synynny"),
    "season_customer": ("get", "synynny"),
    "season_give_back": ("post", "synynny"),
    "season_list": ("get", "syyynny"),
    "season_pdf": ("get", "synynny"),
    "season_program": ("get", "synynny"),
    "season_program_edit": ("get", "synynny"),
    "season_program_new": ("get", "synynny"),
    "season_property": ("get", "synynny"),
    "season_property_new": ("get", "synynny"),
    "season_rates": ("post", "synynny"),
    "season_release": ("get", "synynny"),
    "season_reserve": ("post", "synynny"),
    "season_round": ("get", "synynny"),
    "season_round_drop": ("post", "synynny"),
    "season_round_new": ("get", "synynny"),
    "season_rows": ("post", "synynny"),
    "season_plan": ("get", "syyynyy"),
    "state_rules": ("get", "snnyyyy"),
    "state_rules_list": ("get", "snnyyyy"),
    "season_ship_to_options": ("get", "syyynyy"),
    "security_log": ("get", "snnnnny"),
    "set_up": ("get", "nnnnnnn"),
    "stock_costs": ("get", "snnnnyy"),
    "stock_cost_move": ("get", "snnnnyy"),
    "stock_cost": ("post", "snnnnyy"),
    "stock_detail": ("get", "snnyyyy"),
    "stock_export": ("get", "snnnnyy"),
    "stock_levels": ("get", "snnyyyy"),
    "stock_options": ("get", "snnyyyy"),
    "stock_list": ("get", "snnyyyy"),
    "stock_plan": ("get", "snnyyyy"),
    "stock_plan_again": ("post", "snnyyyy"),
    "stock_plan_accept": ("post", "snnnnyy"),
    "stock_plan_take_back": ("post", "snnnnyy"),
    "stock_retire": ("post", "snnnnyn"),
    "stock_short": ("post", "snnnyyn"),
    "stock_upload": ("get", "snnnnyy"),
    "stock_upload_preview": ("get", "snnnnyn"),
    "tank_cleaning": ("get", "snnyyyy"),
    "tank_detail": ("get", "snnyyyy"),
    "tank_drain": ("post", "snnnyyn"),
    "tank_list": ("get", "snnyyyy"),
    "tank_planning_combine": ("post", "snnnyyy"),
    "tank_planning_plan": ("post", "snnnyyy"),
    "tank_planning_tank": ("get", "snnyyyy"),
    "tank_planning": ("get", "snnyyyy"),
    "tank_rinse": ("post", "snnnyyn"),
    "tank_setting": ("get", "snnnnny"),
    "tank_sign": ("post", "snnnyyn"),
    "day_undone": ("get", "snnnyyy"),
    "the_day": ("get", "snnnyyy"),
    "tonnage": ("get", "snnnnyy"),
    "tonnage_csv": ("get", "snnnnyy"),
    "tonnage_pdf": ("get", "snnnnyy"),
    "trace": ("get", "snnyyyy"),
    "trace_csv": ("get", "snnyyyy"),
    "trace_json": ("get", "snnyyyy"),
    "unsent_report": ("post", "snnnyyn"),
    "unsent_settle": ("post", "snnnyyn"),
    "work_again": ("post", "snnyyyy"),
    "work_call_off": ("post", "snnyyyy"),
    "work_detail": ("get", "snnyyyy"),
    "work_download": ("get", "snnyyyy"),
    "work_list": ("get", "syyyyyy"),
    "work_progress": ("get", "snnyyyy"),
    "year_figures": ("get", "snnynyy"),
    "year_figures_csv": ("get", "snnynyy"),
}

#: Signed-out pages of the sign-in library; tests/test_frame.py exercises them.
ACCOUNT_PAGES: Final = "account_"
#: Django's back office has its own permissions, tested in tests/whole_site/test_back_office.py.
BACK_OFFICE: Final = "admin"


#: Answered before anybody is looked at.
ANSWERED_TO_ANYBODY: Final = {"alive", "ready", "metrics"}

Answers = dict[tuple[str, str], HttpResponse]


def _routes(resolver: URLResolver | None = None) -> Iterator[str]:
    for pattern in (resolver or get_resolver()).url_patterns:
        if isinstance(pattern, URLPattern):
            yield str(pattern.name)
        elif pattern.namespace != BACK_OFFICE:
            yield from _routes(pattern)


@pytest.fixture(scope="module")
def answers(world: dict[str, Client]) -> Answers:
    """What each column gets of each route; nothing that it writes stays."""
    found, arguments = {}, arguments_of_routes()
    for name, (method, _) in TABLE.items():
        url = reverse(name, kwargs=arguments(name))
        for column in COLUMNS:
            with transaction.atomic():
                found[name, column] = getattr(world[column], method)(url)
                transaction.set_rollback(True)
    return found


def _letter(response: HttpResponse) -> str:
    if response.status_code in (401, 403, 404):
        return "n"
    if response.status_code == 302 and response["Location"].startswith("/people/login/"):
        return "s"
    assert response.status_code != 405
    assert response.status_code < 500, response.content[:500]
    return "y"


def test_every_route_stands_in_the_table() -> None:
    routes = {name for name in _routes() if not name.startswith(ACCOUNT_PAGES)}
    assert routes == set(TABLE)


def test_every_role_gets_exactly_what_the_table_says(answers: Answers) -> None:
    wrong = []
    for name, (method, expected) in TABLE.items():
        found = "".join(_letter(answers[name, column]) for column in COLUMNS)
        if found != expected:
            wrong.append(f"{name} {method}: expected {expected}, found {found}")
    assert wrong == []


def test_no_cache_keeps_what_a_signed_in_person_is_shown(answers: Answers) -> None:
    """Back shows the next person none of it."""
    kept = [
        f"{name} {column}: {answers[name, column].headers.get('Cache-Control')}"
        for name, (_method, letters) in TABLE.items()
        for column, letter in zip(COLUMNS, letters, strict=True)
        if column != "nobody" and letter == "y" and name not in ANSWERED_TO_ANYBODY
        if not is_kept_by_no_cache(answers[name, column])
    ]
    assert kept == []


def _pages(answers: Answers, column: str) -> Iterator[tuple[str, str]]:
    """Name and text of every page that is open to a column."""
    position = COLUMNS.index(column)
    for name, (method, letters) in TABLE.items():
        if method == "get" and letters[position] == "y" and not name.startswith("api_"):
            yield name, _text(answers[name, column])


def _text(response: HttpResponse) -> str:
    if response["Content-Type"] == "application/pdf":
        return "".join(page.extract_text() for page in PdfReader(BytesIO(response.content)).pages)
    return response.content.decode()


def test_the_stranger_finds_no_word_of_the_other_company(answers: Answers) -> None:
    own = CUSTOMERS[1]["name"]
    leaks = [
        name
        for name, text in _pages(answers, "stranger")
        if not name.startswith("quote_public")  # whoever holds the signed link may read it
        and own in text
    ]
    assert leaks == []
    assert own in _text(answers["order_board", "customer"])


def test_plant_pages_show_no_price(answers: Answers) -> None:
    leaks = [
        name
        for name, text in _pages(answers, "plant")
        if not name.startswith(
            ("quote_public", "charging_worker", "crew_worker")
        )  # the latter are scripts
        and "$" in text
    ]
    assert leaks == []
    assert "$" in _text(answers["quote_list", "rep"])


def test_customer_pages_show_neither_cost_nor_margin(answers: Answers) -> None:
    words = ("margin", "shrink", "cost per lb", "material at")
    leaks = [
        f"{name}: {word}"
        for name, text in _pages(answers, "customer")
        for word in words
        if word in text.lower()
    ]
    assert leaks == []
    assert "margin" in _text(answers["quote_detail", "rep"]).lower()


def _recipe_of(blend: Blend) -> dict[str, float]:
    return {line.name: line.pct for line in blend.latest.solved.recipe}


def _shares_told(html: str, recipe: Mapping[str, float]) -> list[str]:
    """Stocks of a recipe that stand in a text with their share right behind them."""
    text = " ".join(unescape(re.sub(r"<[^>]*>", " ", html)).split())
    told = []
    for name, pct in recipe.items():
        shares = "|".join(re.escape(f"{pct:.{places}f}") for places in (3, 2, 1, 0))
        if re.search(rf"{re.escape(name)}\W{{0,12}}({shares})\b", text, re.IGNORECASE):
            told.append(name)
    return told


def test_a_customer_reads_no_stock_with_its_share_unless_the_plant_says_so(
    answers: Answers, world: dict[str, Client]
) -> None:
    company = Company.objects.get(name=CUSTOMERS[1]["name"])
    recipe = _recipe_of(Blend.objects.get(company=company))
    assert _shares_told(_text(answers["blend_detail", "rep"]), recipe) == list(recipe)
    leaks = [
        f"{name}: {stock}"
        for name, text in _pages(answers, "customer")
        for stock in _shares_told(text, recipe)
    ]
    assert leaks == []
    papers = Paper.objects.visible_to(User.objects.get(email=CUSTOMERS[1]["people"][0][0]))
    assert {paper.kind for paper in papers} >= {Paper.Kind.QUOTE}
    for paper in papers:
        page = world["customer"].get(reverse("paper", args=[paper.pk]))
        assert _shares_told(_text(page), recipe) == [], paper
    # The wish of this blend names its shares, and the rep has set them.
    revision = Blend.objects.get(company=company).latest
    asked = world["customer"].get(reverse("blend_page"), {"revision": revision.pk})
    assert asked.status_code == 403
    with transaction.atomic():
        Company.objects.filter(pk=company.pk).update(sees_recipe=True)
        page = world["customer"].get(reverse("blend_detail", args=[revision.blend_id]))
        assert _shares_told(_text(page), recipe) == list(recipe)
        transaction.set_rollback(True)
