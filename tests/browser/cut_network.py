"""A wire between browser and server that a test can cut, for the page and its worker alike."""

import contextlib
import socket
import threading


class Wire:
    """Passes bytes between a port of its own and the server's, unless it is cut.

    What the browser's own offline switch does to a service worker depends on the moment.
    """

    def __init__(self, host: str, port: int) -> None:
        self._server = (host, port)
        self._is_cut = False
        self._cuts_next_answer = False
        #: Set while nothing gets through.
        self.is_dead = threading.Event()
        self._open: set[socket.socket] = set()
        #: Held while the state changes, so that nothing connects past a cut.
        self._lock = threading.Lock()
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.url = f"http://127.0.0.1:{self._listener.getsockname()[1]}"
        threading.Thread(target=self._accept, daemon=True).start()

    def cut(self) -> None:
        with self._lock:
            self._is_cut = True
            self.is_dead.set()
            ends, self._open = self._open, set()
        for end in ends:
            self._close(end)

    def mend(self) -> None:
        with self._lock:
            self._is_cut = False
            self.is_dead.clear()

    def cut_in_next_answer(self) -> None:
        """The wire is cut behind the first line of what the server says next."""
        self._cuts_next_answer = True

    def close(self) -> None:
        self.cut()
        self._listener.close()

    def _accept(self) -> None:
        with contextlib.suppress(OSError):  # the listener is closed
            while True:
                self._connect(self._listener.accept()[0])

    def _connect(self, browser: socket.socket) -> None:
        with self._lock:
            if self._is_cut:
                browser.close()
                return
            try:
                server = socket.create_connection(self._server)
            except OSError:  # the server has no room just now; the browser may ask again
                browser.close()
                return
            self._open |= {browser, server}
        for one, other in ((browser, server), (server, browser)):
            threading.Thread(target=self._pass_on, args=(one, other), daemon=True).start()

    def _pass_on(self, one: socket.socket, other: socket.socket) -> None:
        with contextlib.suppress(OSError):  # the wire was cut
            while data := one.recv(65536):
                if self._cuts_next_answer and data.startswith(b"HTTP/"):
                    self._cuts_next_answer = False
                    other.sendall(data[: data.index(b"\r\n") + 2])
                    other.shutdown(socket.SHUT_WR)  # an end, not a reset that takes the line back
                    self.cut()
                    return
                other.sendall(data)
        with self._lock:
            self._open -= {one, other}
        self._close(one)
        self._close(other)

    @staticmethod
    def _close(end: socket.socket) -> None:
        with contextlib.suppress(OSError):
            end.shutdown(socket.SHUT_RDWR)
        end.close()
