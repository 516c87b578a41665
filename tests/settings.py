"""Settings for the test suite: debug defaults, a fast hasher, no mail leaves the process."""

import os

os.environ.setdefault("BLENDSHOP_DEBUG", "true")

from blendshop.settings import *

DEBUG = False
CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
ACCOUNT_RATE_LIMITS = {}
REST_FRAMEWORK = {**REST_FRAMEWORK, "DEFAULT_THROTTLE_CLASSES": []}  # noqa: F405
REQUEST_SECONDS = 600  # a busy machine refuses nothing; tests of the guard set their own
WHITENOISE_AUTOREFRESH = True  # no collected files to look for
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":  # noqa: F405
    # A test database need not survive a power cut.
    DATABASES["default"]["OPTIONS"]["init_command"] = (  # noqa: F405
        "PRAGMA journal_mode=WAL;PRAGMA synchronous=OFF;"
    )
