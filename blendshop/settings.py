"""All settings, read strictly from the environment; README has the table of variables.

Nothing insecure is a default: without BLENDSHOP_DEBUG the process refuses to start unless it
is given a secret key, its host names and its address. What is wrong is refused at the end, all of
it at once (blendshop/environment.py).
"""

import logging
from pathlib import Path
from typing import Any

from csp.constants import NONE, SELF
from marshmallow.validate import ContainsOnly, OneOf, Range

from blendshop.environment import environment, refuse_what_is_wrong
from blendshop.monitoring.logs import logging_setting

BASE_DIR = Path(__file__).resolve().parent.parent
env = environment()

DEBUG = env.bool("BLENDSHOP_DEBUG", False)
#: What a debug process does without; elsewhere it has to be given.
_IN_DEBUG = {
    "key": "debug-only-not-a-secret",
    "hosts": ["127.0.0.1", "localhost", "testserver"],
    "site": "http://127.0.0.1:8000",
}
_IF_UNSET: dict[str, Any] = _IN_DEBUG if DEBUG else dict.fromkeys(_IN_DEBUG, ...)
SECRET_KEY: str = env.secret_key("BLENDSHOP_SECRET_KEY", _IF_UNSET["key"], debug=DEBUG)
#: A secret that was before the present one: what it signed and encrypted still reads.
SECRET_KEY_FALLBACKS: list[str] = env.list("BLENDSHOP_SECRET_KEY_FALLBACKS", [])
ALLOWED_HOSTS: list[str] = env.host_names(
    "BLENDSHOP_ALLOWED_HOSTS", _IF_UNSET["hosts"], debug=DEBUG
)
CSRF_TRUSTED_ORIGINS: list[str] = env.origins("BLENDSHOP_TRUSTED_ORIGINS", [], debug=DEBUG)

INSTALLED_APPS = [
    "blendshop.apps.BlendshopConfig",
    "blendshop.accounts.apps.AccountsConfig",
    "blendshop.outbox.apps.OutboxConfig",
    "blendshop.long_work.apps.LongWorkConfig",
    "blendshop.notices.apps.NoticesConfig",
    "blendshop.jobs.apps.JobsConfig",  # before whitenoise: its runserver starts a worker beside it
    "formulas.apps.FormulasConfig",
    "orders.apps.OrdersConfig",
    "blendshop.apps.BackOfficeConfig",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "blendshop.apps.UsedStaticFiles",
    "django.forms",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "allauth.usersessions",
    "rest_framework",
    "rest_framework.authtoken",
    "drf_spectacular",
    "drf_spectacular_sidecar",
    "simple_history",
    "django_htmx",
    "django_include_bootstrap",
    "lucide",
    "django_tasks",
    "django_tasks_db",
]

MIDDLEWARE = [
    "blendshop.monitoring.middleware.RequestMiddleware",
    "blendshop.monitoring.middleware.ProbeMiddleware",
    "blendshop.api.https_only.HttpsOnlyApi",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "blendshop.front_door.FrontDoor",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "blendshop.accounts.middleware.NoStoreMiddleware",
    "blendshop.accounts.middleware.IdleSessionMiddleware",
    "blendshop.languages.middleware.LanguageMiddleware",
    "blendshop.accounts.middleware.SignInMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "blendshop.accounts.middleware.SecondFactorMiddleware",
    "simple_history.middleware.HistoryRequestMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "formulas.contracts.deadline.RequestDeadline",
    "blendshop.middleware.DomainErrorMiddleware",
]

ROOT_URLCONF = "blendshop.urls"
WSGI_APPLICATION = "blendshop.wsgi.application"
FORM_RENDERER = "blendshop.forms.FieldRenderer"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "blendshop.context.shop",
            ],
            "builtins": [
                "blendshop.templatetags.shop_format",
                "formulas.templatetags.nutrients",
                "django.templatetags.i18n",
            ],
        },
    },
]

# --- Database: SQLite by default, PostgreSQL by DATABASE_URL -------------------------------
DATABASES: dict[str, dict[str, Any]] = {
    "default": env.database(
        "DATABASE_URL",
        f"sqlite:///{BASE_DIR / 'blendshop.sqlite3'}",
        pool=env.int("BLENDSHOP_DB_POOL", 8, validate=Range(0, 500)),
        debug=DEBUG,
    )
}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# --- What all processes know: limits of requests and of sign-ins ------------------------------
CACHES = {"default": env.cache("BLENDSHOP_CACHE_URL", "database")}

# --- People --------------------------------------------------------------------------------
AUTH_USER_MODEL = "accounts.User"
AUTHENTICATION_BACKENDS = [
    "django.contrib.auth.backends.ModelBackend",
    "allauth.account.auth_backends.AuthenticationBackend",
]
_VALIDATORS = "django.contrib.auth.password_validation"
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"{_VALIDATORS}.UserAttributeSimilarityValidator"},
    {"NAME": f"{_VALIDATORS}.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": f"{_VALIDATORS}.CommonPasswordValidator"},
    {"NAME": f"{_VALIDATORS}.NumericPasswordValidator"},
    {"NAME": "orders.records.password_words.KnownWordsValidator"},
]
#: An invitation, and the link to a new password, work once and so long.
PASSWORD_RESET_TIMEOUT = 3 * 24 * 3600
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "home"
ACCOUNT_LOGOUT_REDIRECT_URL = "account_login"
ACCOUNT_ADAPTER = "blendshop.accounts.adapter.HouseAccounts"
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*", "password2*"]
ACCOUNT_EMAIL_VERIFICATION = "none"  # people are added by the office, not by themselves
#: The key of a failed sign-in is account and address together (accounts/adapter.py). Many people
#: may sit behind one address.
ACCOUNT_RATE_LIMITS = {"login": "120/m/ip", "login_failed": "60/m/ip,5/300s/key"}
ACCOUNT_EMAIL_UNKNOWN_ACCOUNTS = False
ACCOUNT_EMAIL_SUBJECT_PREFIX = ""
#: Roles that sign in with a second factor; everybody else may.
SECOND_FACTOR_ROLES: list[str] = env.list(
    "BLENDSHOP_SECOND_FACTOR",
    [] if DEBUG else ["formulator", "office"],
    validate=ContainsOnly(["rep", "plant", "formulator", "office", "customer"]),
)
SESSION_HOURS = env.int("BLENDSHOP_SESSION_HOURS", 24, validate=Range(1, 720))
#: NIST SP 800-63B 4.2.3: twelve hours at AAL2, however much a session is used.
STAFF_SESSION_HOURS = env.int("BLENDSHOP_STAFF_SESSION_HOURS", 12, validate=Range(1, 720))
SESSION_IDLE_MINUTES = env.int("BLENDSHOP_SESSION_IDLE_MINUTES", 120, validate=Range(min=1))
MFA_ADAPTER = "blendshop.accounts.second_factor.EncryptedSecrets"
MFA_SUPPORTED_TYPES = ["totp", "webauthn", "recovery_codes"]
MFA_RECOVERY_CODES_SHOW_ONCE = True
MFA_TOTP_ISSUER = "Blendshop"
MFA_TOTP_TOLERANCE = 1  # a phone's clock may be half a minute off
MFA_ALLOW_UNVERIFIED_EMAIL = True  # the office wrote the address down
MFA_WEBAUTHN_ALLOW_INSECURE_ORIGIN = DEBUG  # http://localhost
EMAIL_BACKEND: str = env.mail_backend(
    "BLENDSHOP_EMAIL_BACKEND",
    f"django.core.mail.backends.{'console' if DEBUG else 'smtp'}.EmailBackend",
    debug=DEBUG,
)
DEFAULT_FROM_EMAIL: str = env.mail_address("BLENDSHOP_FROM_EMAIL", "office@plant.example")
EMAIL_HOST = env.str("BLENDSHOP_EMAIL_HOST", "localhost")
EMAIL_PORT = env.int("BLENDSHOP_EMAIL_PORT", 25, validate=Range(1, 65535))
EMAIL_HOST_USER = env.str("BLENDSHOP_EMAIL_USER", "")
EMAIL_HOST_PASSWORD = env.str("BLENDSHOP_EMAIL_PASSWORD", "")
EMAIL_USE_TLS = env.bool("BLENDSHOP_EMAIL_TLS", False)
#: For each step of the talk with the mail server; only the worker waits for it.
EMAIL_TIMEOUT = env.int("BLENDSHOP_EMAIL_TIMEOUT", 15)

# --- Background work -----------------------------------------------------------------------
TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend"}}
#: A worker inside `runserver`, so that development needs one command; production has `run_worker`.
EMBEDDED_WORKER = env.bool("BLENDSHOP_EMBEDDED_WORKER", DEBUG)
#: Tasks put on the queue once a day of the plant's calendar, and every so many seconds.
DAILY_TASKS = [
    "blendshop.jobs.tasks.tidy_queue",
    "blendshop.jobs.tasks.count_rows_for_plans",
    "blendshop.long_work.actions.tidying.tidy_long_work",
    "blendshop.notices.tasks.tidy_notices",
    "orders.quoting.tasks.expire_quotes_of_the_day",
    "orders.quoting.tasks.tell_of_expiring_quotes",
    "orders.inventory.tasks.tell_of_short_stock",
    "orders.labels.tasks.tell_of_waiting_labels",
    "orders.compliance.tasks.tell_of_rules_of_the_day",
    "blendshop.notices.tasks.mail_notices_of_the_day",
]
REPEATED_TASKS = {
    "blendshop.outbox.actions.deliver_overdue": 300,
    "blendshop.long_work.actions.working.look_after": 60,
    "orders.repricing.tasks.reprice_if_changed": 300,
}

# --- Pages ---------------------------------------------------------------------------------
LANGUAGE_CODE = "en-us"
USE_I18N = True
#: Offered; Spanish in the rooms a customer sees (blendshop/languages).
LANGUAGES = [("en", "English"), ("es", "Español")]
LANGUAGE_COOKIE_SECURE = not DEBUG
#: Django's own marks in Spanish are those of es-US too: a point before the decimals.
FORMAT_MODULE_PATH = ["blendshop.languages.formats"]
LOCALE_PATHS = [BASE_DIR / "blendshop" / "locale"]
#: Who has checked the Spanish; until somebody has, papers say that the English text decides.
SPANISH_CHECKED_BY = ""
#: How the house writes figures (blendshop/figures): a tag of LOCALES, a name of SYSTEMS.
FIGURES_LOCALE = "en-US"
FIGURES_UNITS = "us"
TIME_ZONE: str = env.time_zone("BLENDSHOP_TIME_ZONE", "America/New_York")
USE_TZ = True
STATIC_URL = "static/"
STATIC_ROOT = env.path("BLENDSHOP_STATIC_ROOT", BASE_DIR / "staticfiles")
#: Certificates of lots. Served only by views that ask who is looking; there is no media address.
MEDIA_ROOT = env.path("BLENDSHOP_MEDIA_ROOT", BASE_DIR / "media")
STATICFILES_DIRS = [BASE_DIR / "blendshop" / "static"]
STORAGES = {
    "default": env.media_storage("BLENDSHOP_MEDIA_URL", ""),
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if DEBUG
        else "blendshop.static_files.HashedModulesStorage"
    },
}
WHITENOISE_KEEP_ONLY_HASHED_FILES = True
#: The address people reach the site at; goes into mails and QR codes.
SITE_URL: str = env.site_url("BLENDSHOP_SITE_URL", _IF_UNSET["site"], debug=DEBUG)
CURRENCY: str = env.currency("BLENDSHOP_CURRENCY", "USD")
QUOTE_LINK_DAYS = env.int("BLENDSHOP_QUOTE_LINK_DAYS", 120, validate=Range(1, 3650))

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:"],  # Bootstrap's own style sheet carries data: images
        "font-src": [SELF],
        "connect-src": [SELF],
        "worker-src": [SELF],
        "frame-src": [SELF],  # signing in again over a page
        "manifest-src": [SELF],
        "form-action": [SELF],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
        "object-src": [NONE],
    }
}
X_FRAME_OPTIONS = "DENY"
CSRF_FAILURE_VIEW = "blendshop.accounts.again_views.refused_token"
if not DEBUG:
    SECURE_SSL_REDIRECT = env.bool("BLENDSHOP_SSL_REDIRECT", True)
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    SECURE_HSTS_SECONDS = env.int("BLENDSHOP_HSTS_SECONDS", 31_536_000, validate=Range(0))
    SECURE_HSTS_INCLUDE_SUBDOMAINS = True
    SECURE_HSTS_PRELOAD = True
    SESSION_COOKIE_SECURE = True
    CSRF_COOKIE_SECURE = True
    # A browser takes these names only over TLS, for this host alone: no neighbour plants one.
    SESSION_COOKIE_NAME = "__Host-sessionid"
    CSRF_COOKIE_NAME = "__Host-csrftoken"
    ALLAUTH_TRUSTED_PROXY_COUNT = env.int("BLENDSHOP_PROXIES", 1, validate=Range(0, 20))

#: The last guard around what one request may ask of the engine; its work is counted besides.
REQUEST_SECONDS = env.int("BLENDSHOP_REQUEST_SECONDS", 10, validate=Range(1, 600))
#: Threads of a process that may be at it or wait for it; it needs some more for everything else.
COMPUTATIONS_AT_ONCE = env.int("BLENDSHOP_COMPUTATIONS", 6, validate=Range(min=1))

# --- API -----------------------------------------------------------------------------------
REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "rest_framework.authentication.TokenAuthentication",
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "DEFAULT_THROTTLE_CLASSES": ["rest_framework.throttling.UserRateThrottle"],
    "DEFAULT_THROTTLE_RATES": {"user": "600/min"},
    "EXCEPTION_HANDLER": "blendshop.api.errors.exception_handler",
    "TEST_REQUEST_DEFAULT_FORMAT": "json",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Blendshop API",
    "DESCRIPTION": "Formulate a blend, work out a spray sheet.",
    "VERSION": "1",
    "SERVE_INCLUDE_SCHEMA": False,
    "SERVE_PERMISSIONS": ["rest_framework.permissions.IsAuthenticated"],
    "SWAGGER_UI_DIST": "SIDECAR",
    "SWAGGER_UI_FAVICON_HREF": "SIDECAR",
    "COMPONENT_SPLIT_REQUEST": True,
    "POSTPROCESSING_HOOKS": [
        "drf_spectacular.hooks.postprocess_schema_enums",
        "blendshop.api.description.with_what_holds_for_all",
    ],
}

# --- Watching over it ------------------------------------------------------------------------
#: The proxy gives each request its number in X-Request-ID and lets none of a visitor's through.
PROXY_NUMBERS_REQUESTS = env.bool("BLENDSHOP_PROXY_REQUEST_ID", False)
METRICS_TOKEN: str = env.token("BLENDSHOP_METRICS_TOKEN", "")
#: Read by prometheus_client itself: where the processes of a server add up what they count.
METRICS_FOLDER: str = env.folder("PROMETHEUS_MULTIPROC_DIR", "")
LOGGING = logging_setting(
    level=env.log_level("BLENDSHOP_LOG_LEVEL", logging.WARNING),
    form=env.str("BLENDSHOP_LOG_FORMAT", "text", validate=OneOf(["text", "json"])),
    errors_to=env.mail_addresses("BLENDSHOP_ERRORS_TO", []),
)

refuse_what_is_wrong(env)
