"""``healthy.py ADDRESS``: ends with 0 when the address answers 200, as a probe wants it."""

import sys
import urllib.error
import urllib.request


def main(address: str) -> int:
    # What the proxy would say: the request came over TLS.
    request = urllib.request.Request(address, headers={"X-Forwarded-Proto": "https"})  # noqa: S310
    try:
        with urllib.request.urlopen(request, timeout=4) as answer:  # noqa: S310 - ours, on loopback
            return 0 if answer.status == 200 else 1
    except (urllib.error.URLError, TimeoutError) as error:
        sys.stderr.write(f"{address}: {error}\n")
        return 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
