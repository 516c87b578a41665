"""A person at a page whose clicks and keys are counted."""

from playwright.sync_api import Locator, Page


class Hands:
    """Everything goes through real mouse and keyboard; ``clicks`` and ``keys`` count it."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.clicks = self.keys = 0

    def click(self, place: Locator) -> None:
        place.click()
        self.clicks += 1

    def press(self, key: str) -> None:
        self.page.keyboard.press(key)
        self.keys += 1

    def type(self, text: str) -> None:
        """Into whatever has the focus."""
        self.page.keyboard.type(text)
        self.keys += len(text)

    def write(self, place: Locator, text: str) -> None:
        """A click into the field, and the text in place of what stands there."""
        place.click(click_count=3)
        self.clicks += 1
        self.type(text)

    def choose(self, place: Locator, label: str) -> None:
        """Of a select: a click to open it and one on the choice."""
        place.select_option(label=label)
        self.clicks += 2

    def tabs_to(self, place: Locator, *, most: int) -> int:
        """Presses of Tab until the focus is there."""
        for tabs in range(1, most + 1):
            self.press("Tab")
            if place.evaluate("there => there === document.activeElement"):
                return tabs
        raise AssertionError(f"not reached with {most} presses of Tab")
