"""What page and print of a season say: nothing they do not know, and each reader's words."""

from django.urls import reverse

from formulas.engine.law import CAUTION
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
