"""Mail servers that fail: one that is not there, one that says nothing. Both on loopback."""

import socket
import threading
from collections.abc import Iterator
from typing import Any, Final

import pytest

SMTP: Final = "django.core.mail.backends.smtp.EmailBackend"


@pytest.fixture
def closed_port(settings: Any) -> None:
    """A mail server that is not there."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        settings.EMAIL_PORT = probe.getsockname()[1]
    settings.EMAIL_BACKEND, settings.EMAIL_HOST = SMTP, "127.0.0.1"


@pytest.fixture
def silent_server(settings: Any) -> Iterator[list[socket.socket]]:
    """A mail server that takes connections and says nothing; the connections."""
    taken: list[socket.socket] = []
    server = socket.create_server(("127.0.0.1", 0))
    settings.EMAIL_BACKEND, settings.EMAIL_HOST = SMTP, "127.0.0.1"
    settings.EMAIL_PORT, settings.EMAIL_TIMEOUT = server.getsockname()[1], 0.3

    def take() -> None:
        while True:
            try:
                taken.append(server.accept()[0])
            except OSError:
                return

    thread = threading.Thread(target=take, daemon=True)
    thread.start()
    yield taken
    server.shutdown(socket.SHUT_RDWR)
    server.close()
    thread.join(10)
    for connection in taken:
        connection.close()
