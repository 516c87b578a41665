"""A worker in a thread of the development server, so that one command is enough."""

import threading

from blendshop.jobs.worker import QueueWorker


def start_embedded_worker() -> threading.Thread:
    """Begin working beside the server; the thread ends with its process."""
    thread = threading.Thread(target=QueueWorker().run, name="embedded worker", daemon=True)
    thread.start()
    return thread
