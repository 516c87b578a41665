"""What page and print of a season say: nothing they do not know, and each reader's words."""

from datetime import date

from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from formulas.engine.law import CAUTION
from orders.models import ProgramRound, SeasonProgram
from orders.season.page import season_page
from orders.season.season_pdf import LAW_CAUTION
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
    assert LAW_CAUTION == CAUTION
    # NIST SP 811, appendix B: the US gallon is 3.785412 L.
    assert f"{3.785412 * gal:,.0f} L" in in_spanish


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
