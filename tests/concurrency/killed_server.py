"""A server to be killed and started again, without loading the program each time.

``python -m tests.concurrency.killed_server PORT``: each line on standard input begins a server
process, whose number is written; when it has ended, so is what it ended with.
"""

import os
import sys

from django.core.servers.basehttp import run


def main(port: int) -> None:
    from blendshop.wsgi import application

    for _line in sys.stdin:
        server = os.fork()
        if not server:
            run("127.0.0.1", port, application, threading=True)
        sys.stdout.write(f"{server}\n")
        sys.stdout.flush()
        _, status = os.waitpid(server, 0)
        sys.stdout.write(f"{os.waitstatus_to_exitcode(status)}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main(int(sys.argv[1]))
