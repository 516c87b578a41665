"""The demo as all rules about pages see it: one of everything, and who is signed in."""

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from io import BytesIO
from typing import Any

from django.contrib.auth.models import Group
from django.core.files.base import ContentFile
from django.test import Client, RequestFactory
from django.utils import timezone
from pypdf import PdfWriter

from blendshop.accounts.models import Company, User
from blendshop.accounts.typed import keep_typed, word_of
from blendshop.long_work.actions.working import do_part
from blendshop.long_work.models import LongWork, WorkPart
from blendshop.notices.models import Notice
from blendshop.outbox.actions import post_mail
from blendshop.outbox.models import Mail
from blendshop.roles import Role
from formulas.jar_tests.actions import Jar, register_jar_test
from formulas.models import BaseStock, Blend, JarTest, StockCost
from formulas.stocks.catalogue_work import UPLOAD_PREVIEW
from formulas.stocks.table.export import export_catalogue
from formulas.stocks.table.plan import plan_upload
from formulas.stocks.table.preview import preview_of
from orders.allocation.planning_work import STOCK_PLANNING, begin_planning
from orders.buying.actions import write_down_purchase
from orders.cost_change.actions.impact import work_out_impact
from orders.cost_change.actions.proposing import NewCost, write_down_costs
from orders.cost_change.quote_work import QUOTE_WORK
from orders.crew_sheet.actions import Applied, make_sheet, write_record
from orders.crew_sheet.application import Application
from orders.crew_sheet.links import sheet_token
from orders.demo.customers import CUSTOMERS
from orders.demo.plant import STAFF
from orders.inventory.actions.lot_quality import Certificate, record_certificate
from orders.models import (
    ApplicationRecord,
    Batch,
    BatchPart,
    CostChange,
    CrewSheet,
    CustomerQuestion,
    HandoverNote,
    Order,
    OrderLine,
    Package,
    PackageSerial,
    ProgramProperty,
    ProgramRound,
    Property,
    Quote,
    Recall,
    RetainedSample,
    SafetySheet,
    SeasonProgram,
    StockLot,
    StockPurchase,
    UnsentWeights,
)
from orders.ordering.actions import place_order
from orders.quoting.links import quote_token
from orders.recall.actions import open_recall
from orders.safety_sheets.actions import put_in_sheet
from orders.season.actions.reserving import reserve
from orders.season.page import season_page
from orders.shift.actions.unsent import report_unsent
from tests.demo_rows import put_in_demo
from tests.orders.inventory.stock_cases import make_lot

_REP = next(email for email, _, roles in STAFF if roles[0] is Role.REP)


def load_one_of_everything() -> None:
    """The demo with a lot, a jar, a package, a recall and an unsent weight more."""
    put_in_demo()
    _receive_a_lot()
    _register_a_jar()
    _number_a_package()
    _recall_what_is_shipped()
    _leave_a_weight_unsent()
    _give_up_mails()
    _work_long()
    _see_new_costs()
    _have_a_colleague()
    _put_in_a_safety_sheet()
    _make_a_crew_sheet()
    _tell_the_office()
    _plan_seasons()
    _order_from_a_supplier()
    _order_what_may_be_changed()


def clients() -> dict[str, Client]:
    """A signed-in client for each role, two customers and nobody."""
    other, own = (User.objects.get(email=data["people"][0][0]) for data in CUSTOMERS)
    staff = {roles[0].value: User.objects.get(email=email) for email, _, roles in STAFF}
    people = {"nobody": None, "customer": own, "stranger": other, **staff}
    return {column: _signed_in(person) for column, person in people.items()}


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


def _give_up_mails() -> None:
    """A mail about the own customer, its quote and its order that could not be delivered."""
    company = Company.objects.get(name=CUSTOMERS[1]["name"])
    order, quote = Order.objects.get(company=company), Quote.objects.get(company=company)
    for about in (("customer", str(company.pk)), ("order", order.number), ("quote", quote.number)):
        post_mail(to=["gone@nowhere.example"], subject="Lost", text="Lost.", about=about)
    Mail.objects.update(state=Mail.State.DEAD, last_error="550 no such person")


def _tell_the_office() -> None:
    office = User.objects.get(email=next(email for email, _, roles in STAFF if "office" in roles))
    Notice.objects.create(person=office, kind="other", text="Something.", link="/orders/")


def _plan_seasons() -> None:
    """Of the own customer: one property, and twice one round of the blend it has ordered.

    One season may be changed, the other's round released.
    """
    company = Company.objects.get(name=CUSTOMERS[1]["name"])
    line = OrderLine.objects.filter(order__company=company).select_related("revision")[0]
    rep = User.objects.get(email=_REP)
    year = timezone.localdate().year + 1
    treated = Property.objects.create(company=company, name="Route A", acres=40, state="MD")
    for name in ("Lawns", "Fields"):
        program = SeasonProgram.objects.create(
            company=company,
            name=name,
            year=year,
            ship_to=company.ship_tos.order_by("pk")[0],
            package=Package.objects.get(pk=line.package_id),
            made_by=rep,
        )
        ProgramProperty.objects.create(program=program, property=treated)
        ProgramRound.objects.create(
            program=program,
            name="Spring",
            on=date(year, 4, 20),
            revision=line.revision,
            n_rate_lb_per_1000sqft=0.7,
        )
    shown = season_page(program, timezone.localdate(), changes=False).figures.shown
    reserve(acting_user=rep, program=program, seen=shown)


def _order_from_a_supplier() -> None:
    """A purchase that is on the way."""
    write_down_purchase(
        acting_user=User.objects.get(
            email=next(email for email, _, roles in STAFF if "office" in roles)
        ),
        stock=BaseStock.objects.get(code="UAN32"),
        supplier="Supplier, invented",
        lb=Decimal(22_000),
        expected_on=timezone.localdate(),
        key="demo world",
    )


def _order_what_may_be_changed() -> None:
    """The own customer's shipped order once more, at no quote and not planned."""
    company = Company.objects.get(name=CUSTOMERS[1]["name"])
    line = OrderLine.objects.filter(order__company=company).select_related("order__ship_to")[0]
    before, line.pk = line.order, None
    line._state.adding = True
    place_order(
        company=company,
        ship_to=before.ship_to,
        lines=[line],
        total=line.line_total,
        deposit_total=line.deposit,
        acting_user=company.people.order_by("pk")[0],
        who="Casey Owner",
        why="Ordered again.",
    )


def _work_long() -> None:
    """A stock plan that was found, one that was called off, with a file, and an upload."""
    office = User.objects.get(email=next(email for email, _, roles in STAFF if "office" in roles))
    begin_planning(office)
    do_part.call(WorkPart.objects.get().pk)
    LongWork.objects.create(
        kind=STOCK_PLANNING.name,
        asked_by=office,
        who=str(office),
        state=LongWork.State.CALLED_OFF,
        ended_at=timezone.now(),
        download=ContentFile(b"a,b", name="table.csv"),
        download_name="table.csv",
    )
    formulator = next(email for email, _, roles in STAFF if "formulator" in roles)
    LongWork.objects.create(
        kind=UPLOAD_PREVIEW.name,
        asked_by=User.objects.get(email=formulator),
        state=LongWork.State.DONE,
        ended_at=timezone.now(),
        result=preview_of(plan_upload(export_catalogue(timezone.localdate()))).to_json(),
    )


def _see_new_costs() -> None:
    """New costs, what they do, and what was done to a quote because of them."""
    office = User.objects.get(email=next(email for email, _, roles in STAFF if "office" in roles))
    change = write_down_costs(
        acting_user=office,
        name="Letter of December",
        costs={"UAN32": NewCost(Decimal(900), "ton")},
    )
    impact = work_out_impact(change=change, acting_user=office)
    for part in WorkPart.objects.filter(work=impact.work):
        do_part.call(part.pk)
    LongWork.objects.create(
        kind=QUOTE_WORK.name,
        asked_by=office,
        who=str(office),
        state=LongWork.State.DONE,
        ended_at=timezone.now(),
        result={
            "change": change.pk,
            "deed": "withdraw",
            "quotes": [{"quote": "Q-1", "company": "A", "is_done": False, "says": "It is sent."}],
        },
    )


def _mail_about(kind: str, key: object) -> int:
    return Mail.objects.about(kind, str(key)).get().pk


def _have_a_colleague() -> None:
    company = Company.objects.get(name=CUSTOMERS[1]["name"])
    crew = User.objects.create_user("crew@ridgecombe.example", name="Rory Crew", company=company)
    crew.groups.add(Group.objects.get(name=Role.CUSTOMER.value))
    CustomerQuestion.objects.create(company=company, asked_by=crew, text="Do you take totes back?")


def _make_a_crew_sheet() -> None:
    """Of the own customer's order, with one record of it."""
    company = Company.objects.get(name=CUSTOMERS[1]["name"])
    line = OrderLine.objects.filter(order__company=company).select_related("order")[0]
    today = timezone.localdate()
    sheet = make_sheet(
        acting_user=company.people.order_by("pk")[0],
        line=line,
        part=None,
        application=Application(
            place="North field",
            state="VA",
            area_sqft=43_560,
            carrier_gal_per_1000sqft=2,
            tank_gal=100,
            n_rate_lb_per_1000sqft=0.5,
            from_on=today,
            until_on=today,
        ),
        key="a crew sheet",
    )
    applied = Applied(
        applied_by="Alex Sample",
        applied_on=today,
        place="North field",
        area_sqft=43_560,
        amount_gal=9,
    )
    write_record(sheet=sheet, applied=applied, key="a record")


def _put_in_a_safety_sheet() -> None:
    """Of the blend the own customer has ordered."""
    company = Company.objects.get(name=CUSTOMERS[1]["name"])
    line = OrderLine.objects.filter(order__company=company).select_related("revision__blend")[0]
    formulator = User.objects.filter(groups__name=Role.FORMULATOR.value)[0]
    page, writer = BytesIO(), PdfWriter()
    writer.add_blank_page(width=72, height=72)
    writer.write(page)
    put_in_sheet(
        acting_user=formulator,
        of=line.revision.blend,
        pdf=page.getvalue(),
        revised_on=timezone.localdate(),
    )


def _receive_a_lot() -> None:
    """One lot with a file on its certificate."""
    plant = User.objects.get(email=next(email for email, _, roles in STAFF if "plant" in roles))
    lot = make_lot(BaseStock.objects.get(code="UAN32"), plant)
    record_certificate(
        lot=lot,
        certificate=Certificate(file=ContentFile(b"no picture", name="scan.jpg")),
        acting_user=plant,
    )


def _register_a_jar() -> None:
    """One jar with a photo."""
    plant = User.objects.get(email=next(email for email, _, roles in STAFF if "plant" in roles))
    jar = Jar(
        parts={BaseStock.objects.get(code="UAN32"): 1.0},
        tested_on=timezone.localdate(),
        days=0,
        temperature_f=70,
        outcome="clear",
        photo=ContentFile(b"no picture", name="jar.jpg"),
    )
    register_jar_test(jar=jar, key="one-jar-of-the-table", acting_user=plant)


def _number_a_package() -> None:
    """One filled package of the own customer's part."""
    plant = User.objects.get(email=next(email for email, _, roles in STAFF if "plant" in roles))
    part = BatchPart.objects.get(order_line__order__company__name=CUSTOMERS[1]["name"])
    PackageSerial.objects.create(
        part=part,
        serial=f"{part.batch.number}-01",
        net_lb=2611,
        key="one-package-of-the-table",
        by=plant,
        who=str(plant),
    )


def _recall_what_is_shipped() -> None:
    """A recall of the own customer's batch, whose order is shipped for it."""
    formulator = User.objects.get(
        email=next(email for email, _, roles in STAFF if "formulator" in roles)
    )
    order = Order.objects.get(company__name=CUSTOMERS[1]["name"])
    Order.objects.filter(pk=order.pk).update(status=Order.Status.SHIPPED)
    batch = Batch.objects.get(parts__order_line__order=order)
    open_recall(
        source=batch.number,
        reason="Smells of ammonia.",
        customer_reason="The product may burn turf.",
        acting_user=formulator,
    )


def _leave_a_weight_unsent() -> None:
    plant = User.objects.get(email=next(email for email, _, roles in STAFF if "plant" in roles))
    report_unsent(
        tablet="0" * 32,
        person=plant.pk,
        waiting={Batch.objects.order_by("pk")[0].number: 2},
        acting_user=plant,
    )


def _signed_in(person: User | None) -> Client:
    client = Client()
    if person is not None:
        client.force_login(person)
    return client
