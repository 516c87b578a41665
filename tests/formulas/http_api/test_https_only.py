"""The API in clear text: refused, so that nobody goes on sending a token that way."""

import pytest
from django.test import Client, override_settings

IN_PRODUCTION = override_settings(
    SECURE_SSL_REDIRECT=True, SECURE_PROXY_SSL_HEADER=("HTTP_X_FORWARDED_PROTO", "https")
)


@IN_PRODUCTION
@pytest.mark.parametrize("method", ["get", "post"])
def test_in_clear_text_it_is_refused_and_led_nowhere(method):
    answer = getattr(Client(), method)("/api/v1/formulations/")
    assert answer.status_code == 403
    assert answer.json()["code"] == "https_only"
    assert "Location" not in answer


@IN_PRODUCTION
def test_over_tls_and_in_development_it_is_answered(db):
    over_tls = Client(headers={"x-forwarded-proto": "https"})
    assert over_tls.post("/api/v1/formulations/").status_code == 401
    with override_settings(SECURE_SSL_REDIRECT=False):
        assert Client().post("/api/v1/formulations/").status_code == 401
