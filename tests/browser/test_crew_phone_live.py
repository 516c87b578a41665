"""A crew's phone in Spanish: ticks, cups and a half-filled record outlast a reload and a place
without network; the saved record is read by the owner, and the phone keeps nothing of it."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Page, expect

from blendshop.accounts.models import Company, User
from orders.crew_sheet.actions import make_sheet
from orders.crew_sheet.application import Application
from orders.crew_sheet.links import sheet_token
from orders.models import ApplicationRecord
from tests.browser.waits import wait_until
from tests.orders.planning.plant_cases import placed_order, save_half_slow

pytestmark = pytest.mark.browser

#: The newest copy of the sheet stands in the worker's store.
IS_KEPT = """async () => Boolean(
  navigator.serviceWorker.controller
  && await (await caches.open("crew-sheets")).match(location.pathname)
)"""


def test_a_crew_works_through_a_sheet_and_its_record_is_read(
    shop: None, page_for: Callable[..., Page], company: Company, customer: User, rep: User
) -> None:
    order = placed_order(rep, company, revision=save_half_slow(rep, company), quantity=2)
    today = timezone.localdate()
    sheet = make_sheet(
        acting_user=customer,
        line=order.lines.get(),
        part=None,
        application=Application(
            place="North field", state="VA", area_sqft=250_000, carrier_gal_per_1000sqft=2,
            tank_gal=200, n_rate_lb_per_1000sqft=0.7, nozzle_count=3, nozzle_spacing_in=20,
            speed_mph=4, from_on=today, until_on=today + timedelta(days=3), language="es",
        ),
        key="one",
    )  # fmt: skip
    page = page_for(None, width=390, height=844, expected=True)
    page.goto(f"/crew/phone/{sheet_token(sheet)}/?lang=es")
    first = page.locator(".crew-steps input").first
    first.check()
    page.get_by_label("Boquilla 1").fill("75")
    page.get_by_label("Boquilla 2").fill("60")
    # UF/IFAS WG013: 1.173 gal/min of one nozzle is 75.1 fl oz in 30 s; 67.5 is the mean of two.
    found = page.locator("#crew-cups-found")
    expect(found).to_contain_text("90 % del objetivo: 1.80 gal por 1,000 pies² (7.3 L por 100 m²)")
    page.get_by_label("Aplicado por").fill("Ana Ejemplo")
    wait_until(lambda: page.evaluate(IS_KEPT))

    page.context.set_offline(True)
    page.reload()
    expect(first).to_be_checked()
    expect(page.locator(".crew-cup output").first).to_have_text("bien")
    expect(page.locator(".crew-cup output").nth(1)).to_have_text("muy poco")
    expect(page.get_by_label("Aplicado por")).to_have_value("Ana Ejemplo")
    page.get_by_label("Producto usado, galones").fill("7000")
    page.get_by_role("button", name="Guardar este registro").click()
    expect(page.locator("#crew-kept")).to_contain_text("Sin red")
    page.context.set_offline(False)
    page.get_by_role("button", name="Guardar este registro").click()
    expect(page.locator("#id_amount_gal_error")).to_contain_text("de la dosis de la hoja")
    expect(page.get_by_label("Aplicado por")).to_have_value("Ana Ejemplo")
    expect(first).to_be_checked()

    accessible = Axe().run(page)
    assert accessible.violations_count == 0, accessible.generate_report()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.get_by_label("Producto usado, galones").fill("70")
    page.get_by_role("button", name="Guardar este registro").click()
    expect(page.get_by_text("El registro está guardado")).to_be_visible()
    expect(first).not_to_be_checked()
    expect(page.get_by_label("Aplicado por")).to_have_value("")
    assert page.evaluate("Object.keys(localStorage)") == []
    assert ApplicationRecord.objects.get().amount_gal == 70
    for user in (customer, rep):
        page = page_for(user)
        page.goto("/crew/records/")
        expect(page.get_by_text("Ana Ejemplo")).to_be_visible()
