"""Browsers by the words a person knows them by; the lines are as the browsers send them."""

import pytest

from blendshop.accounts.devices import device_words

ENGINE = "AppleWebKit/537.36 (KHTML, like Gecko)"


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        (
            "Mozilla/5.0 (Windows NT 10.0; Win64; x64; rv:140.0) Gecko/20100101 Firefox/140.0",
            "Firefox on Windows",
        ),
        (
            (
                f"Mozilla/5.0 (Windows NT 10.0; Win64; x64) {ENGINE} Chrome/140.0.0.0 Safari/537.36"
                " Edg/140.0.0.0"
            ),
            "Edge on Windows",
        ),
        (
            f"Mozilla/5.0 (Linux; Android 10; K) {ENGINE} Chrome/140.0.0.0 Mobile Safari/537.36",
            "Chrome on Android",
        ),
        (
            f"Mozilla/5.0 (X11; CrOS x86_64 14541.0.0) {ENGINE} Chrome/140.0.0.0 Safari/537.36",
            "Chrome on ChromeOS",
        ),
        (
            (
                "Mozilla/5.0 (Macintosh; Intel Mac OS X 10_15_7) AppleWebKit/605.1.15"
                " (KHTML, like Gecko) Version/18.0 Safari/605.1.15"
            ),
            "Safari on Mac or iPad",
        ),
        (
            (
                "Mozilla/5.0 (iPhone; CPU iPhone OS 18_0 like Mac OS X) AppleWebKit/605.1.15"
                " (KHTML, like Gecko) CriOS/140.0 Mobile/15E148 Safari/604.1"
            ),
            "Chrome on iPhone",
        ),
        ("Mozilla/5.0 (Windows NT 10.0) NewEngine/1.0", "unknown browser on Windows"),
        ("curl/7.88 (Windows) Firefox/1.0", "unknown browser"),
        ("<script>", "unknown browser"),
        ("", "unknown browser"),
    ],
)
def test_a_browser_is_called_as_people_call_it(sent, words):
    assert device_words(sent) == words
