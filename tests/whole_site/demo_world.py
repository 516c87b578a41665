"""The demo as all rules about pages see it: one of everything, and who is signed in."""

from datetime import date
from decimal import Decimal
from io import BytesIO

from django.contrib.auth.models import Group
from django.core.files.base import ContentFile
from django.test import Client
from django.utils import timezone
from pypdf import PdfWriter

from blendshop.accounts.models import Company, User
from blendshop.long_work.actions.working import do_part
from blendshop.long_work.models import LongWork, WorkPart
from blendshop.notices.models import Notice
from blendshop.outbox.actions import post_mail
from blendshop.outbox.models import Mail
from blendshop.roles import Role
from formulas.jar_tests.actions import Jar, register_jar_test
from formulas.models import BaseStock
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
from orders.demo.customers import CUSTOMERS
from orders.demo.plant import STAFF
from orders.inventory.actions.lot_quality import Certificate, record_certificate
from orders.models import (
    Batch,
    BatchPart,
    CustomerQuestion,
    Order,
    OrderLine,
    Package,
    PackageSerial,
    ProgramProperty,
    ProgramRound,
    Property,
    Quote,
    SeasonProgram,
)
from orders.ordering.actions import place_order
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
