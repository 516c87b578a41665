#!/usr/bin/env python
"""Django's command line for Blendshop."""

import os
import sys


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "blendshop.settings")
    from django.core.management import execute_from_command_line

    from blendshop.environment import UnusableSettings

    try:
        execute_from_command_line(sys.argv)
    except UnusableSettings as unusable:
        sys.exit(str(unusable))


if __name__ == "__main__":
    main()
