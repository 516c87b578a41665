"""Whose language and units hold, and what is written in them."""

import datetime as dt

import pytest
from django.conf import settings
from django.contrib.auth.models import AnonymousUser
from django.http import HttpResponse
from django.template import Context, Template
from django.urls import get_resolver, reverse
from django.utils import translation

from blendshop.accounts.models import Company, User
from blendshop.figures.readers import house, reader
from blendshop.languages.choice import Choice, choice_for, choice_of, house_choice, written_in
from blendshop.languages.middleware import LanguageMiddleware, has_other_languages
from tests.whole_site.test_permission_matrix import COLUMNS, TABLE

SPANISH_METRIC = Choice("es", "metric")


@pytest.mark.parametrize(
    ("person", "company", "chosen"),
    [
        (("", ""), None, ("en", "us")),
        (("", ""), ("", ""), ("en", "us")),
        (("", ""), ("es", "metric"), ("es", "metric")),
        (("en", ""), ("es", "metric"), ("en", "metric")),
        (("es", "us"), ("", "metric"), ("es", "us")),
    ],
)
def test_a_person_s_choice_holds_before_the_company_s_and_that_before_the_house_s(
    person, company, chosen
):
    of_company = company and Company(language=company[0], units=company[1])
    user = User(language=person[0], units=person[1], company=of_company)
    assert choice_of(user) == Choice(*chosen)


def test_a_company_without_a_choice_and_nobody_at_all_have_the_house_s(settings):
    settings.FIGURES_UNITS = "metric"
    assert house_choice() == Choice("en", "metric")
    assert choice_for(Company(units="us")) == Choice("en", "us")
    assert choice_for(None) == choice_of(AnonymousUser()) == Choice("en", "metric")


def test_words_and_figures_are_written_in_the_choice_and_afterwards_as_before():
    before = translation.get_language(), reader()
    with written_in(SPANISH_METRIC):
        assert translation.get_language() == "es"
        assert reader().mass(1000, 0) == "454 kg"
        assert reader().date(dt.date(2026, 3, 2)) == "2 de marzo de 2026"
        # Numbers Django writes by itself keep the marks of es-US.
        assert Template("{{ share }}").render(Context({"share": 1.5})) == "1.5"
    assert (translation.get_language(), reader()) == before
    assert house().mass(1000, 0) == "1,000 lb"


def language_of(response):
    return response.content.decode().split('<html lang="', 1)[1][:2]


def test_a_page_is_written_in_the_reader_s_choice(customer, signed_in):
    customer.company.language = "es"
    customer.company.save()
    own_page = reverse("own_sign_in")
    assert language_of(signed_in(customer).get(own_page)) == "es"
    customer.language = "en"
    customer.save()
    assert language_of(signed_in(customer).get(own_page)) == "en"
    # What the browser prefers is a stranger's only.
    asked = signed_in(customer).get(own_page, headers={"accept-language": "es"})
    assert language_of(asked) == "en"


def test_a_stranger_s_page_goes_by_address_then_cookie_then_browser(client, customer):
    page = reverse("account_login")
    assert language_of(client.get(page)) == "en"
    assert language_of(client.get(page, headers={"accept-language": "es-MX,en;q=0.5"})) == "es"
    assert language_of(client.get(page, headers={"accept-language": "fr,en;q=0.5"})) == "en"
    assert language_of(client.get(f"{page}?lang=es")) == "es"
    kept = client.get(page, headers={"accept-language": "en"})
    assert language_of(kept) == "es"
    assert "Accept-Language" in kept["Vary"]
    assert language_of(client.get(f"{page}?lang=nonsense")) == "es"
    assert language_of(client.get(f"{page}?lang=en")) == "en"


def test_a_paper_s_language_is_the_paper_s_alone(rf):
    page = LanguageMiddleware(lambda request: HttpResponse(content_type="text/html"))
    paper = LanguageMiddleware(lambda request: HttpResponse(content_type="application/pdf"))
    for answered, is_kept in ((page, True), (paper, False)):
        request = rf.get("/quotes/x/pdf/?lang=en")
        request.user = AnonymousUser()
        assert (settings.LANGUAGE_COOKIE_NAME in answered(request).cookies) is is_kept


def test_a_room_without_the_reader_s_language_is_in_english_as_a_whole(customer, signed_in):
    """Its frame too, as a screen reader goes by it; the reader is told in the own language."""
    customer.language, customer.units = "es", "metric"
    customer.save()
    page = signed_in(customer).get(reverse("blend_list"))
    html = page.content.decode()
    assert language_of(page) == "en"
    assert 'lang="es">Esta página está solo en inglés.' in html
    assert "Skip to content" in html
    assert language_of(signed_in(customer).get(reverse("customer_home"))) == "es"
    customer.language = "en"
    customer.save()
    assert "solo en inglés" not in signed_in(customer).get(reverse("blend_list")).content.decode()


#: What a customer may open that is in English alone: the blend page, saved recipes, their season.
IN_ENGLISH = {
    "blend_answer",
    "blend_customer_options",
    "blend_detail",
    "blend_list",
    "blend_page",
    "blend_ship_to_options",
    "blend_stock_options",
    "blend_storage",
    "blend_tray",
    "season_plan",
    "season_ship_to_options",
    "work_list",
}


def test_everything_else_a_customer_may_open_is_in_every_language():
    readers = COLUMNS.index("customer"), COLUMNS.index("nobody")
    views = dict(named_views(get_resolver()))
    found = {
        name
        for name, (method, letters) in TABLE.items()
        if method == "get"
        and any(letters[at] == "y" for at in readers)
        and not has_other_languages(views[name])
    }
    assert found == IN_ENGLISH


def named_views(resolver):
    for each in resolver.url_patterns:
        if hasattr(each, "url_patterns"):
            yield from named_views(each)
        elif each.name:
            yield each.name, each.callback
