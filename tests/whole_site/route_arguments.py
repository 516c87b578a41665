"""Where each route leads in the loaded demo: records of the own customer."""

from collections.abc import Callable
from typing import Any

from django.test import RequestFactory

from blendshop.accounts.models import Company, User
from blendshop.accounts.typed import keep_typed, word_of
from blendshop.long_work.models import LongWork
from blendshop.notices.models import Notice
from blendshop.outbox.models import Mail
from blendshop.roles import Role
from formulas.models import Blend, JarTest, StockCost
from formulas.stocks.catalogue_work import UPLOAD_PREVIEW
from orders.cost_change.quote_work import QUOTE_WORK
from orders.crew_sheet.links import sheet_token
from orders.demo.customers import CUSTOMERS
from orders.demo.plant import STAFF
from orders.models import (
    ApplicationRecord,
    Batch,
    CostChange,
    CrewSheet,
    CustomerQuestion,
    HandoverNote,
    Order,
    ProgramRound,
    Quote,
    Recall,
    RetainedSample,
    SafetySheet,
    StockLot,
    StockPurchase,
    UnsentWeights,
)
from orders.quoting.links import quote_token

_REP = next(email for email, _, roles in STAFF if roles[0] is Role.REP)


def arguments_of_routes() -> Callable[[str], dict[str, Any]]:
    """Looks up what a route of that name needs, pointing at records of the own customer."""
    company = Company.objects.get(name=CUSTOMERS[1]["name"])
    order, unplanned = Order.objects.filter(company=company).order_by("pk")
    batch = Batch.objects.get(parts__order_line__order=order)
    quote = Quote.objects.get(company=company)
    for_prefix: dict[str, dict[str, Any]] = {
        "customer_ship_to": {
            "pk": company.pk,
            "ship_to_pk": company.ship_tos.order_by("pk")[0].pk,
        },
        "cost_change_from_table": {},
        "cost_change_list": {},
        "cost_change_new": {},
        "cost_change_csv": {"pk": CostChange.objects.get().pk, "table": "quotes"},
        "cost_change_done": {
            "pk": CostChange.objects.get().pk,
            "work": LongWork.objects.get(kind=QUOTE_WORK.name).pk,
        },
        "cost_change": {"pk": CostChange.objects.get().pk},
        "crew_list": {},
        "crew_new": {"number": order.number, "position": 1},
        "crew_phone": {"token": sheet_token(CrewSheet.objects.get())},
        "crew_record_correct": {"pk": ApplicationRecord.objects.get().pk},
        "crew_records": {},
        "crew_sheet": {"number": CrewSheet.objects.get().number},
        "customer_home": {},
        "papers_by_lot": {},
        "change_log": {},
        "change_take_back": {
            "source": "StockCost",
            "pk": StockCost.objects.order_by("pk")[0].pk,
        },
        "customer_list": {},
        "own_place_new": {},
        "own_places": {},
        "own_place": {"pk": company.ship_tos.order_by("pk")[0].pk},
        "own_questions": {},
        "own_mails": {},
        "question_answer": {"pk": CustomerQuestion.objects.get().pk},
        "blend_sheets": {"pk": Blend.objects.get(company=company).pk},
        "safety_sheet": {"pk": SafetySheet.objects.get().pk},
        "colleagues": {},
        "colleague_": {"pk": company.people.order_by("-pk")[0].pk},
        "customer_owner": {
            "pk": company.pk,
            "person_pk": company.people.order_by("pk")[0].pk,
        },
        "customer_may_order": {
            "pk": company.pk,
            "person_pk": company.people.order_by("pk")[0].pk,
        },
        "customer_mail_resend": {"pk": company.pk, "mail_pk": _mail_about("customer", company.pk)},
        "customer_new": {},
        "customer_options": {},
        "customer_": {"pk": company.pk},
        "blend_detail": {"pk": Blend.objects.get(company=company).pk},
        "blend_tray_drop": {"pk": 1},
        "blend_review": {"pk": Blend.objects.get(company=company).pk},
        "blend_rename": {"pk": Blend.objects.get(company=company).pk},
        "blend_archive": {"pk": Blend.objects.get(company=company).pk},
        "reorder_blend": {"pk": Blend.objects.get(company=company).pk},
        "reorder_order": {"number": order.number},
        "reorder_price": {"number": order.number},
        "order_board": {},
        "order_change": {"number": unplanned.number},
        "order_mail_resend": {"number": order.number, "pk": _mail_about("order", order.number)},
        "order_": {"number": order.number},
        "batch_list": {},
        "batch_": {"number": batch.number},
        "label_": {"number": batch.number, "position": 1},
        "package_setting": {},
        "package_": {"serial": f"{batch.number}-01"},
        "part_": {"number": batch.number, "position": 1},
        "paper": {"pk": quote.papers.order_by("pk")[0].pk},
        "quote_list": {},
        "quote_mail_resend": {"number": quote.number, "pk": _mail_about("quote", quote.number)},
        "quote_new": {},
        "quote_blend_options": {},
        "quote_ship_to_options": {},
        "typed_again": {"key": _typed_by(User.objects.get(email=_REP))},
        "quote_public": {"token": quote_token(quote)},
        "quote_line_stock": {"number": quote.number, "position": 1},
        "quote_": {"number": quote.number},
        "notice_open": {"pk": Notice.objects.get(kind="other").pk},
        "mail_list": {},
        "mail_": {"pk": _mail_about("order", order.number)},
        "mfa_remove_webauthn": {"pk": 0},
        "own_session_end": {"pk": 0},
        "jar_test_list": {},
        "jar_test_register": {},
        "jar_test_": {"pk": JarTest.objects.exclude(photo="").get().pk},
        "request_decide": {"number": order.number},
        "place_decide": {"pk": company.ship_tos.order_by("pk")[0].pk},
        "lot_list": {},
        "lot_receive": {},
        "lot_": {"code": StockLot.objects.exclude(certificate="").get().code},
        "recall_list": {},
        "recall_open": {},
        "recall_customer": {"number": Recall.objects.get().number, "pk": company.pk},
        "recall_letter_pdf": {"number": Recall.objects.get().number, "pk": company.pk},
        "recall_": {"number": Recall.objects.get().number},
        "stock_levels": {},
        "stock_costs": {},
        "stock_plan_take_back": {"number": order.number, "position": 1},
        "stock_plan": {},
        "drift_list": {},
        "drift_": {"code": "UAN32"},
        "buying_stock": {"code": "UAN32"},
        "purchase_new": {"code": "UAN32"},
        "purchase_change": {"pk": StockPurchase.objects.get().pk},
        "purchase_call_off": {"pk": StockPurchase.objects.get().pk},
        "stock_storage": {"code": "UAN32"},
        "work_list": {},
        "work_": {"pk": LongWork.objects.filter(state=LongWork.State.CALLED_OFF).get().pk},
        "stock_list": {},
        "stock_options": {},
        "stock_upload_preview": {"pk": LongWork.objects.get(kind=UPLOAD_PREVIEW.name).pk},
        "stock_upload": {},
        "stock_export": {},
        "stock_": {"code": "UAN32"},
        "handover_read": {"pk": HandoverNote.objects.order_by("pk")[0].pk},
        "sample_list": {},
        "sample_discard": {"pk": RetainedSample.objects.order_by("pk")[0].pk},
        "scale_list": {},
        "scale_": {"pk": batch.tank_id, "scale": "main"},
        "unsent_settle": {"pk": UnsentWeights.objects.get().pk},
        "tank_planning_tank": {"pk": batch.tank_id},
        "season_list": {},
        "season_plan": {},
        "state_rules_list": {},
        "state_rules": {"state": "MD"},
        "season_ship_to_options": {},
        "season_customer": {"pk": company.pk},
        "season_property_new": {"pk": company.pk},
        "season_program_new": {"pk": company.pk},
        "season_property": {"pk": company.properties.get().pk},
        "season_round_new": {"pk": company.season_programs.get(name="Lawns").pk},
        "season_rows": {"pk": company.season_programs.get(name="Lawns").pk},
        "season_round": {"pk": ProgramRound.objects.get(program__name="Lawns").pk},
        "season_release": {"pk": ProgramRound.objects.get(program__name="Fields").pk},
        "season_": {"pk": company.season_programs.get(name="Lawns").pk},
        "tank_planning": {},
        "tank_list": {},
        "tank_setting": {},
        "tank_": {"pk": batch.tank_id},
    }

    def arguments(name: str) -> dict[str, Any]:
        return next((found for prefix, found in for_prefix.items() if name.startswith(prefix)), {})

    return arguments


def _typed_by(person: User) -> str:
    """The key of a form that came when the session was over."""
    key = keep_typed(RequestFactory().post("/blend/answer/", {"typed_by": word_of(person)}))
    assert key is not None
    return key


def _mail_about(kind: str, key: object) -> int:
    return Mail.objects.about(kind, str(key)).get().pk
