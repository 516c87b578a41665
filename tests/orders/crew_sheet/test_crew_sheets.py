"""Crew sheets: what they say, who reads them, and the records crews write."""

import csv
import io
import re
from dataclasses import replace
from datetime import date, time, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from pypdf import PdfReader

from blendshop.errors import BadInput, IllegalMove
from blendshop.immutable import WrittenOnce
from blendshop.languages.choice import Choice, written_in
from formulas.engine.units import L_PER_GAL
from formulas.wording.contents import CONTENTS
from orders.crew_sheet import both_units
from orders.crew_sheet.actions import (
    MOST_RECORDS_A_DAY,
    Applied,
    close_sheet,
    make_sheet,
    write_record,
)
from orders.crew_sheet.application import Application
from orders.crew_sheet.crew_cautions import SENTENCES
from orders.crew_sheet.links import LINK_DAYS, sheet_token
from orders.crew_sheet.page import sheet_page
from orders.crew_sheet.sheet_pdf import render_crew_sheet
from orders.models import ApplicationRecord, Batch, CrewSheet, PlantProfile
from orders.records.letterhead import plant_block
from orders.safety_sheets.actions import put_in_sheet

TODAY = timezone.localdate()
EIGHT, NINE = time(8), time(9)


def application(**changes):
    given = {
        "place": "North field",
        "state": "VA",
        "area_sqft": 250_000,
        "carrier_gal_per_1000sqft": 2,
        "tank_gal": 200,
        "n_rate_lb_per_1000sqft": 0.7,
        "nozzle_count": 9,
        "nozzle_spacing_in": 20,
        "speed_mph": 4,
        "from_on": TODAY,
        "until_on": TODAY + timedelta(days=3),
    }
    return Application(**{**given, **changes})


def applied(**changes):
    given = {
        "applied_by": "Alex Sample",
        "applied_on": TODAY,
        "place": "12 Test Lane",
        "area_sqft": 10_000,
        "amount_gal": 2.5,
    }
    return Applied(**{**given, **changes})


@pytest.fixture
def line(order):
    return order.lines.select_related("order__company", "order__ship_to", "revision__blend").get()


@pytest.fixture
def sheet(line, customer):
    return make_sheet(
        acting_user=customer, line=line, part=None, application=application(), key="one"
    )


def phone(sheet, lang="en"):
    return reverse("crew_phone", args=[sheet_token(sheet)]) + f"?lang={lang}"


def typed(**changes):
    given = {
        "key": "k1",
        "applied_by": "Alex Sample",
        "applied_on": TODAY.isoformat(),
        "place": "12 Test Lane",
        "area_sqft": "10000",
        "amount_gal": "2.5",
    }
    return {**given, **changes}


# --- What it says ---------------------------------------------------------------------------------
def test_rate_and_loads_follow_from_analysis_and_density(sheet):
    figures, spray = sheet.crew_figures, sheet.crew_figures.spray
    per_gal = figures.analysis["N"] / 100 * figures.density_lb_per_gal
    assert spray.product_gal_per_1000sqft == pytest.approx(0.7 / per_gal, abs=1e-5)
    page = sheet_page(sheet)
    # 250 x 2 gal of spray: two tanks of 200 and a last one of 100 gal.
    assert [each.title.split(":")[0] for each in page.fillings] == [
        "Full tank, 200.0 gal (757.1 L)",
        "Last tank, 100.0 gal (378.5 L)",
    ]
    assert page.amount_gal == pytest.approx(250 * 0.7 / per_gal, abs=1e-2)
    product = page.fillings[0].steps[2]
    assert product.text == "Product"
    assert product.figure.us == f"{200 / 2 * 0.7 / per_gal:.1f} gal"
    # UF/IFAS WG013: 87.12 gal an acre x 4 mph x 20 in / 5,940 = 1.173 gal/min, half of it in 30 s.
    assert page.nozzle[0].figure.us == "75.1 fl oz"


def test_a_made_lot_gives_the_figures_of_its_label(line, batch, customer):
    Batch.objects.update(status=Batch.Status.RELEASED)
    part = batch.parts.get()
    sheet = make_sheet(
        acting_user=customer, line=line, part=part, application=application(), key="lot"
    )
    figures = sheet.crew_figures
    assert figures.lot == batch.number
    assert figures.grade == batch.load_plan.grade
    assert dict(figures.guarantees)["Total Nitrogen (N)"].startswith("24")
    assert figures.derived_from
    assert any("Read the SDS" in text for text in figures.cautions)


@pytest.mark.parametrize(
    ("gal", "us", "metric"),
    [(25, "25.0 gal", "94.6 L"), (0.5, "64.0 fl oz (0.50 gal)", "1.89 L")],
)
def test_volumes_stand_in_both_units(gal, us, metric):
    # NIST Handbook 44, appendix C: a gallon is 3.785411784 L and 128 fl oz.
    assert both_units.volume(gal) == both_units.Both(us, metric)
    assert f"{gal * L_PER_GAL:.2f}".startswith(metric.split(" ")[0][:4])


def test_rates_are_metric_per_100_square_metres():
    # 1 gal per 1,000 sq ft is 3,785.4 mL on 92.903 m2: 4,074.6 mL per 100 m2 = 407.46 L/ha.
    assert both_units.product_rate(1.0).metric == "4,075 mL per 100 m²"
    assert both_units.nitrogen_rate(1.0).metric == "0.49 kg N per 100 m²"
    assert both_units.area(1000).metric == "93 m²"


def test_what_would_burn_stands_first_and_says_stop(line, customer):
    hot = application(n_rate_lb_per_1000sqft=2.5, carrier_gal_per_1000sqft=1.5)
    sheet = make_sheet(acting_user=customer, line=line, part=None, application=hot, key="hot")
    first = sheet_page(sheet).cautions[0]
    assert first.is_stop
    assert "do not spray" in first.text


@pytest.mark.parametrize("lang", ["en", "es"])
def test_the_paper_is_one_page_with_the_figures_of_the_phone(sheet, client, lang):
    pdf = client.get(reverse("crew_phone_pdf", args=[sheet_token(sheet)]) + f"?lang={lang}")
    paper = PdfReader(io.BytesIO(pdf.content))
    assert len(paper.pages) == 1
    text = " ".join(paper.pages[0].extract_text().split())
    with written_in(Choice(lang, "us")):
        page = sheet_page(sheet)
    assert page.rates[0].figure.us in text
    assert page.fillings[0].steps[2].figure.us in text
    assert "$" not in text


@pytest.mark.parametrize("lang", ["en", "es"])
def test_the_longest_blend_still_is_one_page_and_names_what_a_state_asks_of_a_record(sheet, lang):
    """All contents a label may guarantee, a long note, many sources and every caution."""
    figures = sheet.crew_figures
    contents = tuple((f"{name} (as guaranteed)", "0.05%") for name in sorted(CONTENTS)[:22])
    sources = tuple(f"ammonium salt of the acid number {number}" for number in range(12))
    long = replace(
        figures,
        product_name="Spring and early summer half slow with every micronutrient there is",
        guarantees=contents,
        derived_from=sources,
        cautions=(*figures.cautions, *sorted(SENTENCES)),
    )
    sheet.figures, sheet.note = long.to_json(), "Gate code with the office. " * 7
    with written_in(Choice(lang, "us")):
        pdf = render_crew_sheet(sheet_page(sheet), plant_block(PlantProfile.load()), "https://x.y/")
    paper = PdfReader(io.BytesIO(pdf))
    assert len(paper.pages) == 1
    assert paper.trailer["/Root"]["/Lang"] == {"en": "en-US", "es": "es-US"}[lang]
    text = " ".join(paper.pages[0].extract_text().split())
    assert {"en": "Page 1 of 1", "es": "Página 1 de 1"}[lang] in text
    # registration_tonnage_records.md, 7: analysis and derivation are fields of a state's record.
    assert sources[-1] in text
    assert contents[-1][0] in text


# --- Who makes and reads it -----------------------------------------------------------------------
def test_pressed_twice_it_is_one_sheet_and_a_wrong_figure_is_said_at_its_field(
    line, customer, signed_in
):
    client, url = signed_in(customer), reverse("crew_new", args=[line.order.number, 1])
    body = {
        "key": "same", "place": "North field", "state": "VA", "area_sqft": "250000",
        "n_rate_lb_per_1000sqft": "0.7", "carrier_gal_per_1000sqft": "2", "tank_gal": "200",
        "nozzle_count": "1", "from_on": TODAY.isoformat(), "until_on": TODAY.isoformat(),
        "language": "es",
    }  # fmt: skip
    assert client.get(url).status_code == 200
    first = client.post(url, body)
    assert client.post(url, body).url == first.url
    assert CrewSheet.objects.get().language == "es"
    little = client.post(url, {**body, "key": "other", "carrier_gal_per_1000sqft": "0.1"})
    assert little.status_code == 400
    assert "cannot be smaller" in little.content.decode()
    both = client.post(url, {**body, "key": "other", "product_fl_oz_per_1000sqft": "20"})
    assert both.status_code == 400
    assert CrewSheet.objects.count() == 1


def test_nothing_is_sprayed_of_an_order_that_is_not_made(line, customer):
    line.order.status = "cancelled"
    with pytest.raises(IllegalMove):
        make_sheet(
            acting_user=customer, line=line, part=None, application=application(), key="none"
        )


def test_the_link_opens_one_sheet_until_it_is_closed(sheet, client, customer):
    page = client.get(phone(sheet))
    assert page.status_code == 200
    html = page.content.decode()
    assert "$" not in html.split("<main", 1)[1]
    assert not {code for code in ("UAN", "triazone") if code in html}
    other = reverse("crew_phone", args=[sheet_token(sheet)[:-2] + "xx"])
    assert client.get(other).status_code == 404
    close_sheet(sheet=sheet, acting_user=customer)
    assert client.get(phone(sheet)).status_code == 410
    assert client.post(phone(sheet), typed()).status_code == 410
    assert not ApplicationRecord.objects.exists()


def test_the_link_ends_with_its_season(sheet, client):
    CrewSheet.objects.update(made_at=timezone.now() - timedelta(days=LINK_DAYS + 1))
    assert client.get(phone(sheet)).status_code == 410


def test_the_phone_reads_in_the_language_of_the_sheet_until_it_asks_for_another(sheet, client):
    CrewSheet.objects.update(language="es")
    url = reverse("crew_phone", args=[sheet_token(sheet)])
    assert '<html lang="es"' in client.get(url).content.decode()
    assert '<html lang="en"' in client.get(f"{url}?lang=en").content.decode()
    html = client.get(url).content.decode()  # kept on the phone
    assert '<html lang="en"' in html
    assert f'action="{url}?lang=en#record"' in html


def test_a_crew_is_told_to_ask_for_a_safety_data_sheet_that_is_not_there(sheet, formulator):
    lacks = "No safety data sheet (SDS) of this product is here yet: ask the plant for it"
    of, day = sheet.order_line.revision.blend, timezone.localdate()
    assert any(caution.text.startswith(lacks) for caution in sheet_page(sheet).cautions)
    put_in_sheet(acting_user=formulator, of=of, pdf=b"%PDF-1.7", revised_on=day)
    assert not any(caution.text.startswith(lacks) for caution in sheet_page(sheet).cautions)


def test_frozen_sentences_are_translated_where_they_are_read(sheet, monkeypatch):
    monkeypatch.setattr(
        "orders.crew_sheet.crew_cautions._", lambda text: f"[{gettext(text)}]", raising=True
    )
    texts = [caution.text for caution in sheet_page(sheet).cautions]
    assert any(text.startswith("[Read the SDS") for text in texts)


# --- Records --------------------------------------------------------------------------------------
def test_a_crew_keeps_a_record_once_without_a_login(sheet, client):
    assert client.post(phone(sheet), typed()).status_code == 302
    assert client.post(phone(sheet), typed()).status_code == 302
    record = ApplicationRecord.objects.get()
    assert (record.who, record.by, record.company) == ("Alex Sample", None, sheet.company)
    # 2.5 gal on 10,000 sq ft: 0.25 gal = 32 fl oz per 1,000 sq ft.
    assert record.rate_fl_oz_per_1000sqft == pytest.approx(32)
    assert record.net_lb == pytest.approx(2.5 * sheet.crew_figures.density_lb_per_gal)
    assert record.product == "Half slow summer"
    with pytest.raises(WrittenOnce):
        record.save()


def test_a_key_of_another_sheet_is_refused(sheet, line, customer):
    write_record(sheet=sheet, applied=applied(), key="a")
    other = make_sheet(
        acting_user=customer, line=line, part=None, application=application(), key="two"
    )
    with pytest.raises(BadInput):
        write_record(sheet=other, applied=applied(), key="a")
    assert (
        make_sheet(acting_user=customer, line=line, part=None, application=application(), key="two")
        == other
    )


def test_what_cannot_be_is_refused_and_comes_back_as_typed(sheet, client):
    later = (TODAY + timedelta(days=3)).isoformat()
    answer = client.post(phone(sheet), typed(applied_on=later, notes="windy at the gate"))
    assert answer.status_code == 400
    assert "still to come" in answer.content.decode()
    assert "windy at the gate" in answer.content.decode()
    with pytest.raises(BadInput) as refused:
        write_record(sheet=sheet, applied=applied(start_time=NINE, end_time=EIGHT), key="t")
    assert set(refused.value.fields) == {"end_time"}


@pytest.mark.parametrize(
    ("field", "written", "told"),
    [
        ("applied_by", "", "requerido"),
        ("applied_on", "31/02/2026", "Introduzca una fecha válida."),
        ("applied_on", "1926-05-01", "Este día es muy anterior a la hoja: revise el año."),
        ("wind_mph", "400", "No más de 100; revise la cifra."),
        ("wind_mph", "fuerte", "Escriba un número, como 24 o 3.5."),
        ("temperature_f", "-90", "No menos de -40."),
        ("area_sqft", "0", "Debe ser más de 0."),
        ("amount_gal", "2,5", "Escriba el punto decimal como punto, por ejemplo 3.5."),
        ("amount_gal", "90000", "% de la dosis de la hoja."),
    ],
)
def test_a_wrong_field_is_named_in_spanish_and_nothing_typed_is_lost(
    sheet, client, field, written, told
):
    body = typed(notes="" if field == "amount_gal" else "cerca del portón", supervisor="Eva Modelo")
    answer = client.post(phone(sheet, "es"), {**body, field: written})
    assert answer.status_code == 400
    assert list(answer.context["form"].errors) == [field]
    html = answer.content.decode()
    (beside,) = re.findall(rf'id="id_{field}_error">([^<]*)<', html)
    assert told in beside
    kept = [written, *(value for name, value in body.items() if name != field and value)]
    assert all(f'value="{value}"' in html or f">\n{value}<" in html for value in kept if value)
    assert not ApplicationRecord.objects.exists()


def test_thousands_are_read_and_a_spill_is_written_down_with_its_words(sheet, client):
    spilt = typed(area_sqft="10,000", amount_gal="90", notes="A hose broke at the gate.")
    assert client.post(phone(sheet), spilt).status_code == 302
    record = ApplicationRecord.objects.get()
    assert (record.area_sqft, record.amount_gal) == (10_000, 90)


def test_the_key_of_a_saved_record_takes_no_other_one(sheet, client):
    saved = client.post(phone(sheet), typed())
    assert 'data-saved="k1"' in client.get(saved.url).content.decode()
    assert 'data-saved=""' in client.get(phone(sheet) + "&saved=other").content.decode()
    other = client.post(phone(sheet), typed(place="14 Test Lane"))
    assert other.status_code == 409
    assert "14 Test Lane" in other.content.decode()
    assert ApplicationRecord.objects.get().place == "12 Test Lane"


def test_a_flood_of_records_ends_and_the_office_still_corrects(sheet, customer, signed_in):
    ApplicationRecord.objects.bulk_create(
        ApplicationRecord(
            key=f"n{number}", who="x", company=sheet.company, sheet=sheet, state="VA", product="p",
            analysis="1-0-0", density_lb_per_gal=10, place="p", applied_by="x", applied_on=TODAY,
            area_sqft=1, rate_fl_oz_per_1000sqft=1, amount_gal=1,
        )
        for number in range(MOST_RECORDS_A_DAY)
    )  # fmt: skip
    with pytest.raises(IllegalMove):
        write_record(sheet=sheet, applied=applied(), key="more")
    first = ApplicationRecord.objects.order_by("pk")[0]
    url = reverse("crew_record_correct", args=[first.pk])
    assert signed_in(customer).post(url, typed(key="right", amount_gal="3")).status_code == 302
    assert ApplicationRecord.objects.get(key="right").corrects == first


def test_a_correction_is_a_row_of_its_own_and_only_the_newest_is_corrected(
    sheet, customer, stranger, plant_worker, signed_in
):
    first = write_record(sheet=sheet, applied=applied(), key="a")
    url = reverse("crew_record_correct", args=[first.pk])
    client = signed_in(customer)
    assert signed_in(stranger).get(url).status_code == 404
    assert signed_in(plant_worker).get(reverse("crew_records")).status_code == 403
    assert client.post(url, typed(key="b", amount_gal="2.6")).status_code == 302
    assert client.get(url).status_code == 404
    html = client.get(reverse("crew_records")).content.decode()
    assert html.count("Corrected by a later row") == 1
    assert list(ApplicationRecord.objects.standing().values_list("amount_gal", flat=True)) == [2.6]


def test_the_list_names_what_the_state_asks_for_and_the_file_has_every_field(
    sheet, customer, signed_in
):
    write_record(sheet=sheet, applied=applied(customer_name="=A lawn", weather="clear"), key="a")
    client = signed_in(customer)
    html = client.get(reverse("crew_records")).content.decode()
    # 2 VAC 5-405: equipment, supervisor and the customer's phone are asked for; weather is there.
    assert "VA asks for more: Owner&#x27;s phone, Equipment, Supervisor" in html
    text = client.get(reverse("crew_records_csv")).content.decode().removeprefix("\ufeff")
    (row,) = csv.DictReader(io.StringIO(text))
    assert (row["area_sqft"], row["amount_gal"], row["stands"]) == ("10000", "2.5", "yes")
    assert row["customer_name"] != "=A lawn"  # nothing a spreadsheet would run
    assert row["customer_name"].endswith("=A lawn")


def test_who_chose_spanish_and_metric_reads_records_in_them(sheet, customer, signed_in):
    write_record(sheet=sheet, applied=applied(applied_on=date(2026, 11, 3)), key="a")
    customer.language, customer.units = "es", "metric"
    customer.save()
    html = signed_in(customer).get(reverse("crew_records")).content.decode()
    # 2.5 gal on 10,000 sq ft: 9.46 L on 929 m2, 0.25 x 4,074.6 mL on 100 m2 (NIST Handbook 44).
    assert "9.46 L" in html
    assert "en 929 m², 1,019 mL por 100 m²" in html
    assert "3 nov 2026" in html
    assert "El registro pide: " in html
    assert "Se guarda 3 años." in html


def test_lists_take_as_many_queries_for_many_rows(sheet, customer, rep, signed_in):
    client = {who: signed_in(who) for who in (customer, rep)}

    def asked():
        counts = []
        for who in client:
            for route in ("crew_records", "crew_list"):
                with CaptureQueriesContext(connection) as queries:
                    html = client[who].get(reverse(route)).content.decode()
                counts.append(len(queries))
        return counts, html.count("CS-")

    def write(numbers):
        like = {
            field.attname: getattr(sheet, field.attname)
            for field in CrewSheet._meta.concrete_fields
            if field.name not in ("id", "number", "key")
        }
        for each in CrewSheet.objects.bulk_create(
            CrewSheet(number=f"CS-9-{number}", key=f"s{number}", **like) for number in numbers
        ):
            write_record(sheet=each, applied=applied(), key=f"r{each.number}")

    write(range(1))
    asked()
    few, few_shown = asked()
    write(range(1, 5))
    many, many_shown = asked()
    assert many == few
    assert CrewSheet.objects.count() == 6
    assert many_shown > few_shown
