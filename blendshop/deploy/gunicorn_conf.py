"""The application server, under systemd and in a container alike; the address is an argument."""

import os
from typing import Any

worker_class = "gthread"
#: Solving a blend takes a core; a page waits for the database. So: processes for cores, threads
#: for waiting.
workers = int(os.environ.get("BLENDSHOP_WEB_PROCESSES", "2"))
threads = int(os.environ.get("BLENDSHOP_WEB_THREADS", "8"))
#: A process that says nothing for so many seconds is ended and begun anew.
timeout = 60
#: Requests in work may end before an old process does; systemd and compose wait longer.
graceful_timeout = 30
keepalive = 5
#: A process makes room for a new one now and then, not all at once.
max_requests = 5000
max_requests_jitter = 500
#: Heartbeats in memory: a slow disk must not look like a hung process.
worker_tmp_dir = "/dev/shm"  # noqa: S108 - memory, as gunicorn's own guide says
#: Connections come from the proxy alone, which sets these headers itself.
forwarded_allow_ips = "127.0.0.1"
control_socket_disable = True
accesslog = None
errorlog = "-"


def child_exit(server: Any, worker: Any) -> None:
    """What an ended process was doing just now is no figure of the server any more."""
    if os.environ.get("PROMETHEUS_MULTIPROC_DIR"):
        from prometheus_client.multiprocess import mark_process_dead

        mark_process_dead(worker.pid)  # type: ignore[no-untyped-call] # the library has no types
