"""A body too large is refused before any of it is kept; no text holds a NUL."""

import socket
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from django.test import Client
from django.urls import reverse

from blendshop.accounts.models import User
from blendshop.front_door import MOST_ANONYMOUS, MOST_USUAL
from blendshop.uploads import MB

LOGIN = "/people/login/"
FORM = "application/x-www-form-urlencoded"


@pytest.mark.parametrize(
    ("path", "size"),
    [
        (LOGIN, MOST_ANONYMOUS + 1),
        ("/lots/receive/", MOST_ANONYMOUS + 1),
        ("/stocks/upload/", 11 * MB),
        ("/api/v1/formulations/", MOST_ANONYMOUS + 1),
    ],
)
def test_a_stranger_sends_no_more_than_a_form(
    client: Client, db: None, path: str, size: int
) -> None:
    assert client.post(path, b"a" * size, content_type=FORM).status_code == 413


def test_a_form_as_large_as_may_be_is_read(client: Client, rep: User) -> None:
    answer = client.post(LOGIN, b"a" * MOST_ANONYMOUS, content_type=FORM)
    assert answer.status_code == 200


def test_what_a_person_may_send_depends_on_the_address(client: Client, office: User) -> None:
    client.force_login(office)
    assert client.post(LOGIN, b"a" * (MOST_USUAL + 1), content_type=FORM).status_code == 413
    page = client.post("/lots/receive/", b"a" * MOST_USUAL, content_type=FORM)
    assert page.status_code not in {413, 500}
    too_much = client.post("/lots/receive/", b"a" * (11 * MB), content_type=FORM)
    assert too_much.status_code == 413
    assert "larger than the 10549 kB" in too_much.content.decode()


def test_the_api_says_it_in_its_own_shape(client: Client, db: None) -> None:
    answer = client.post(
        "/api/v1/formulations/",
        b"a" * (MOST_USUAL + 1),
        content_type="application/json",
        headers={"Authorization": "Token x"},
    )
    assert answer.status_code == 413
    assert answer.json()["code"] == "too_large"


def test_a_body_without_its_length_is_not_read(client: Client, db: None) -> None:
    answer = client.post(LOGIN, b"", content_type=FORM, headers={"Transfer-Encoding": "chunked"})
    assert answer.status_code == 411


@pytest.mark.parametrize("path", ["/blend/?N_min=%00", "/quotes/Q-%00/", "/trace/?q=a%00b"])
def test_an_address_with_a_nul_is_a_bad_one(client: Client, office: User, path: str) -> None:
    client.force_login(office)
    assert client.get(path).status_code == 400


def test_a_form_with_a_nul_is_a_bad_one(client: Client, office: User) -> None:
    client.force_login(office)
    assert client.post("/blend/save/", {"name": "a\x00b"}).status_code == 400


@pytest.mark.django_db(transaction=True)
def test_nothing_of_a_large_upload_reaches_the_disk(live_server, settings, tmp_path: Path) -> None:
    """A stranger begins to send 400 MB as a file; the answer comes before the file has."""
    settings.FILE_UPLOAD_TEMP_DIR = str(tmp_path)
    host = urlsplit(live_server.url)
    head = (
        f"POST {LOGIN} HTTP/1.1\r\nHost: {host.netloc}\r\nContent-Length: 400000000\r\n"
        "Content-Type: multipart/form-data; boundary=x\r\n\r\n"
        '--x\r\nContent-Disposition: form-data; name="f"; filename="f.bin"\r\n\r\n'
    )
    with socket.create_connection((host.hostname, host.port), timeout=30) as connection:
        connection.sendall(head.encode())
        try:
            for _ in range(64):
                connection.sendall(b"a" * 65536)
                assert not list(tmp_path.iterdir())
        except (BrokenPipeError, ConnectionResetError):
            pass  # answered and closed already
        answer = connection.recv(64)
    assert b" 413 " in answer
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("number", ["²", "٣", "9" * 30, "9" * 5_000, "-1", "1e400", "nan"])
@pytest.mark.parametrize(
    ("name", "parameter"),
    [
        ("quote_new", "revision"),
        ("blend_page", "revision"),
        ("blend_page", "draft"),
        ("blend_page", "limit_rows"),
        ("jar_test_register", "revision"),
        ("jar_test_register", "recipe"),
        ("quote_list", "page"),
    ],
)
def test_a_number_in_an_address_that_is_none_finds_nothing(
    client: Client, formulator: User, rep: User, name: str, parameter: str, number: str
) -> None:
    client.force_login(rep if name == "quote_new" else formulator)
    assert client.get(reverse(name), {parameter: number}).status_code in {200, 400, 404}
