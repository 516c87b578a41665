"""Entry for the application server."""

import os
import sys

from django.core.wsgi import get_wsgi_application

from blendshop.environment import UnusableSettings

#: gunicorn's own for "could not begin": it stops, where after another it would begin for ever.
_NOT_BEGUN = 3

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "blendshop.settings")
try:
    application = get_wsgi_application()
except UnusableSettings as unusable:
    sys.stderr.write(f"{unusable}\n")
    raise SystemExit(_NOT_BEGUN) from None
