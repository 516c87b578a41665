"""What tests do again and again at the plant's pages."""

from io import BytesIO

from playwright.sync_api import Page, expect
from pypdf import PdfReader

from orders.models import Charge


def shown(page: Page, place: str) -> str:
    """The text at a place, without separators of thousands."""
    return page.locator(place).inner_text().replace(",", "")


def weigh(page: Page, pounds: str, lot: str = "") -> None:
    """A scanner types the code and Enter into whatever has the focus; then the weight."""
    count = Charge.objects.count()
    if lot:
        expect(page.locator("#charge-lot")).to_be_focused()
        page.keyboard.type(lot)
        page.keyboard.press("Enter")
    expect(page.locator("#charge-mass")).to_be_focused()
    page.keyboard.type(pounds)
    page.keyboard.press("Enter")
    expect(page.locator("#charge-network")).to_have_text("Everything is saved.")
    assert Charge.objects.count() == count + 1


def pdf_text(page: Page, url: str) -> str:
    """What a PDF says to whoever is signed in at the page, one space between words."""
    answer = page.request.get(url)
    assert answer.status == 200, answer.text()[:500]
    assert answer.headers["content-type"] == "application/pdf"
    texts = (each.extract_text() for each in PdfReader(BytesIO(answer.body())).pages)
    return " ".join(" ".join(texts).split())
