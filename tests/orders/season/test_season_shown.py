"""What page and print of a season say: nothing they do not know, and each reader's words."""

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from orders.models import Package, ProgramRound, SeasonProgram
from orders.season.page import season_page
from tests.factories import today
from tests.orders.labels.label_cases import text_of


def test_where_no_rule_was_read_a_season_is_not_said_to_keep_the_limits(
    program, customer, signed_in
):
    page = reverse("season_program", args=[program.pk])
    for each in program.properties.all():
        each.state = "WY"  # no pack of rules is kept for it
        each.county = ""
        each.save()
    html = " ".join(signed_in(customer).get(page).content.decode().split())
    assert "no broken limit known, not all assessed" in html
    assert "not all assessed" in html
    assert "no limit is broken" not in html
    assert "none broken" not in html


def test_it_is_printed_in_the_company_s_language_and_units(program, company, customer, signed_in):
    paper = reverse("season_pdf", args=[program.pk])
    gal = season_page(program, today()).figures.rounds[0].gal
    assert f"{gal:,.0f} gal" in text_of(signed_in(customer).get(paper).content)
    company.language, company.units = "es", "metric"
    company.save()
    in_spanish = text_of(signed_in(customer).get(paper).content)
    assert "Temporada" in in_spanish
    assert "no es asesoría legal" in " ".join(in_spanish.split())
    assert "Página 1 de" in in_spanish
    # NIST SP 811, appendix B: the US gallon is 3.785412 L.
    assert f"{3.785412 * gal:,.0f} L" in in_spanish
    customer.language = "en"
    customer.save()
    assert "Page 1 of" in text_of(signed_in(customer).get(paper).content)


def test_who_measures_in_metric_types_and_reads_hectares_and_grams(
    program, customer, properties, signed_in
):
    """The acre is 0.40468564224 ha, 1 lb per 1,000 sq ft is 4.8824276 g/m²: NIST SP 811, app. B."""
    customer.units = "metric"
    customer.save()
    client = signed_in(customer)
    page = reverse("season_program", args=[program.pk])
    html = " ".join(client.get(page).text.split())
    for shown in ("Hectares", "16.19", "g N per m²", "A hectare"):  # 40 acres
        assert shown in html, shown
    # What a limit says stays in the figures of its law.
    assert "lb N per 1,000 sq ft" not in html
    spring = program.rounds.get(name="Spring")
    assert f'name="rate_{spring.pk}" value="3.42"' in html  # 0.7 lb
    rows = {
        f"{name}_{each.pk}": value
        for each in program.rounds.all()
        for name, value in (("name", each.name), ("on", each.on.isoformat()), ("rate", "3.42"))
    }
    rows[f"rate_{program.rounds.get(name='Summer').pk}"] = "4.3"
    assert client.post(reverse("season_rows", args=[program.pk]), rows).status_code == 302
    rates = dict(program.rounds.values_list("name", "n_rate_lb_per_1000sqft"))
    assert rates["Spring"] == 0.7  # sent back as it was shown
    assert rates["Summer"] == pytest.approx(4.3 / 4.8824276)
    rows[f"rate_{spring.pk}"] = "98"
    refused = client.post(reverse("season_rows", args=[program.pk]), rows)
    assert refused.status_code == 400
    assert "From 0.04882 to 97.65 g/m²." in refused.text

    acres = reverse("season_property", args=[properties[0].pk])
    html = client.get(acres).text
    assert "Hectares treated" in html
    assert 'value="10.12"' in html  # 25 acres
    typed = {
        "name": "Route A", "acres": "10", "state": "MD", "active": "on",
        "carrier_gal_per_1000sqft": "8", "distance_to_water_ft": "15",
    }  # fmt: skip
    assert client.post(acres, typed).status_code == 302
    properties[0].refresh_from_db()
    assert properties[0].acres == pytest.approx(10 / 0.40468564224)
    # 8 L per 100 m²: 3.785411784 L a gallon, 92.90304 m² are 1,000 sq ft; 15 m of 0.3048 m a foot.
    assert properties[0].carrier_gal_per_1000sqft == pytest.approx(8 / 3.785411784 * 0.9290304)
    assert properties[0].distance_to_water_ft == pytest.approx(15 / 0.3048)
    # The rate that fits is a whole hundredth of a gram, and not above the law's 0.9 lb.
    program.rounds.filter(name="Spring").update(n_rate_lb_per_1000sqft=1.1)
    change = client.get(page).context["page"].change.rounds[0]
    assert change.rate == pytest.approx(4.39 / 4.8824276)


def test_lists_ask_as_often_for_many_seasons_as_for_few(program, customer, rep, signed_in):
    clients = {who: signed_in(who) for who in (customer, rep)}
    urls = (
        reverse("season_list"),
        reverse("season_customer", args=[program.company_id]),
        reverse("season_program", args=[program.pk]),
    )

    def asked():
        counts = []
        for client in clients.values():
            for url in urls:
                with CaptureQueriesContext(connection) as queries:
                    html = client.get(url).content.decode()
                counts.append(len(queries))
        return counts, html

    def write(numbers):
        """More seasons, and more rounds of the same blend over more properties alike."""
        like = {"company": program.company, "year": program.year, "ship_to": program.ship_to}
        SeasonProgram.objects.bulk_create(
            SeasonProgram(name=f"Lawns {n}", package=program.package, made_by=rep, **like)
            for n in numbers
        )
        rounds = [
            ProgramRound(
                program=each, name=f"Round {n}", on=date(program.year, 5, 1 + n),
                revision=program.rounds.first().revision, n_rate_lb_per_1000sqft=0.1,
            )
            for each in SeasonProgram.objects.all()
            for n in numbers
        ]  # fmt: skip
        ProgramRound.objects.bulk_create(rounds)

    write(range(1))
    asked()
    few, _html = asked()
    write(range(1, 5))
    many, html = asked()
    assert many == few
    assert SeasonProgram.objects.count() == 6
    assert "Round 4" in html


def test_two_rounds_on_one_day_spray_no_property_together(program, rep, properties, signed_in):
    client = signed_in(rep)
    spring, summer = program.rounds.get(name="Spring"), program.rounds.get(name="Summer")
    typed = {"name": "Summer", "on": spring.on, "n_rate_lb_per_1000sqft": "0.9"}
    address = reverse("season_round", args=[summer.pk])
    refused = client.post(address, typed)
    assert refused.status_code == 400
    assert "Spring and Summer both spray Route A on that day." in refused.text
    summer.refresh_from_db()
    assert summer.on != spring.on
    # Each its own properties: no day's limit is split over two rounds.
    spring.left_out.set([properties[0]])
    assert client.post(address, {**typed, "left_out": [properties[1].pk]}).status_code == 302
    rows = {
        f"{name}_{each.pk}": value
        for each in program.rounds.all()
        for name, value in (("name", each.name), ("on", spring.on), ("rate", "0.5"))
    }
    told = client.post(reverse("season_rows", args=[program.pk]), rows)
    assert told.status_code == 400
    assert "both spray" in told.text


def test_a_state_that_is_none_is_refused_and_a_new_season_is_in_totes(program, rep, signed_in):
    client = signed_in(rep)
    new = reverse("season_property_new", args=[program.company_id])
    refused = client.post(new, {"name": "Route C", "acres": "4", "state": "zz", "active": "on"})
    assert refused.status_code == 400
    assert "ZZ is no state of the United States." in refused.text
    tote = program.package
    Package.objects.create(
        code="bulk", kind=Package.Kind.BULK, name="a tanker", plural_name="a bulk", fill_gal=0,
        tare_lb=0,
    )  # fmt: skip
    page = client.get(reverse("season_program_new", args=[program.company_id]))
    assert page.context["form"]["package"].value() == tote.pk
