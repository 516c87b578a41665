"""A tablet tells the day what it has still to send, and once more when it has sent it."""

from collections.abc import Callable

from playwright.sync_api import Page, Request, expect

from blendshop.accounts.models import User
from orders.models import Batch


def _says_nothing_is_left(request: Request) -> bool:
    return request.url.endswith("/day/unsent/") and (request.post_data or "").endswith("waiting=")


def test_the_day_names_weights_that_wait_on_a_tablet_until_they_are_sent(
    tablet: Callable[..., Page], batch: Batch, plant_worker: User
) -> None:
    page = tablet(worker=False)  # what goes past a worker, no route of the test can stop
    screen = f"/batches/{batch.number}/charge/"
    page.goto(screen)
    page.route(
        f"**{screen}",
        lambda route: route.abort() if route.request.method == "POST" else route.continue_(),
    )
    page.locator("#charge-mass").fill("100")
    page.get_by_role("button", name="Save this weight").click()
    expect(page.locator("#charge-network")).to_contain_text("1 weight is kept on this tablet")
    with page.expect_response("**/day/unsent/") as told:
        page.goto("/day/")
    assert told.value.status == 204
    expect(page.locator("#unsent-here")).to_contain_text(f"1 weight of {batch.number} waits")
    page.reload()
    words = f"{plant_worker}'s tablet: 1 weight unsent, last seen"
    expect(page.locator("#undone")).to_contain_text(words)
    page.unroute(f"**{screen}")
    with page.expect_request_finished(_says_nothing_is_left):
        page.goto(screen)
    expect(page.locator("#charge-network")).to_have_text("Everything is saved.")
    page.goto("/day/")
    expect(page.locator("#undone")).not_to_contain_text("unsent, last seen")
    expect(page.locator("#undone")).to_contain_text("stocks not charged")
    expect(page.locator("#unsent-here")).to_be_hidden()
