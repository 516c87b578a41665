"""All settings, read strictly from the environment; README has the table of variables.

Nothing insecure is a default: without BLENDSHOP_DEBUG the process refuses to start unless it
is given a secret key and its host names.
"""

from pathlib import Path

import dj_database_url
from csp.constants import NONE, SELF
from environs import Env

BASE_DIR = Path(__file__).resolve().parent.parent
env = Env()

DEBUG = env.bool("BLENDSHOP_DEBUG", False)
SECRET_KEY = (
    env.str("BLENDSHOP_SECRET_KEY", "debug-only-not-a-secret")
    if DEBUG
    else env.str("BLENDSHOP_SECRET_KEY")
)
ALLOWED_HOSTS = (
    env.list("BLENDSHOP_ALLOWED_HOSTS", ["127.0.0.1", "localhost", "testserver"])
    if DEBUG
    else env.list("BLENDSHOP_ALLOWED_HOSTS")
)
CSRF_TRUSTED_ORIGINS: list[str] = env.list("BLENDSHOP_TRUSTED_ORIGINS", [])

INSTALLED_APPS = [
    "blendshop.apps.BlendshopConfig",
    "blendshop.accounts.apps.AccountsConfig",
    "formulas.apps.FormulasConfig",
    "orders.apps.OrdersConfig",
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django.forms",
    "allauth",
    "allauth.account",
    "rest_framework",
    "rest_framework.authtoken",
    "drf_spectacular",
    "drf_spectacular_sidecar",
    "simple_history",
    "django_htmx",
    "django_include_bootstrap",
    "lucide",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "blendshop.front_door.FrontDoor",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "simple_history.middleware.HistoryRequestMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "formulas.deadline.RequestDeadline",
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
DATABASES = {
    "default": dj_database_url.parse(
        env.str("DATABASE_URL", f"sqlite:///{BASE_DIR / 'blendshop.sqlite3'}")
    )
}
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    # IMMEDIATE: a read that turns into a write must not meet "database is locked".
    DATABASES["default"]["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 10,
        "init_command": "PRAGMA journal_mode=WAL;PRAGMA synchronous=NORMAL;",
    }
else:
    DATABASES["default"]["OPTIONS"] = {
        "pool": {"min_size": 1, "max_size": env.int("BLENDSHOP_DB_POOL", 8), "timeout": 10}
    }
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# --- People --------------------------------------------------------------------------------
AUTH_USER_MODEL = "accounts.User"
AUTHENTICATION_BACKENDS = [
    "django.contrib.auth.backends.ModelBackend",
    "allauth.account.auth_backends.AuthenticationBackend",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"django.contrib.auth.password_validation.{name}"}
    for name in (
        "UserAttributeSimilarityValidator",
        "MinimumLengthValidator",
        "CommonPasswordValidator",
        "NumericPasswordValidator",
    )
]
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "home"
ACCOUNT_LOGOUT_REDIRECT_URL = "account_login"
ACCOUNT_ADAPTER = "blendshop.accounts.adapter.ClosedSignup"
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*", "password2*"]
ACCOUNT_EMAIL_VERIFICATION = "none"  # people are added by the office, not by themselves
ACCOUNT_RATE_LIMITS = {"login": "120/m/ip", "login_failed": "60/m/ip,5/300s/key"}
ACCOUNT_EMAIL_SUBJECT_PREFIX = ""
EMAIL_BACKEND = env.str("BLENDSHOP_EMAIL_BACKEND", "django.core.mail.backends.console.EmailBackend")
DEFAULT_FROM_EMAIL = env.str("BLENDSHOP_FROM_EMAIL", "office@plant.example")
EMAIL_HOST = env.str("BLENDSHOP_EMAIL_HOST", "localhost")
EMAIL_PORT = env.int("BLENDSHOP_EMAIL_PORT", 25)
EMAIL_HOST_USER = env.str("BLENDSHOP_EMAIL_USER", "")
EMAIL_HOST_PASSWORD = env.str("BLENDSHOP_EMAIL_PASSWORD", "")
EMAIL_USE_TLS = env.bool("BLENDSHOP_EMAIL_TLS", False)

# --- Pages ---------------------------------------------------------------------------------
LANGUAGE_CODE = "en-us"
USE_I18N = True
#: Offered. Spanish is prepared (marked words, figures in es-US) and offered once it is translated;
#: then django.middleware.locale.LocaleMiddleware comes in behind the sessions.
LANGUAGES = [("en", "English")]
LOCALE_PATHS = [BASE_DIR / "blendshop" / "locale"]
#: How the house writes figures (blendshop/figures): a tag of LOCALES, a name of SYSTEMS.
FIGURES_LOCALE = "en-US"
FIGURES_UNITS = "us"
TIME_ZONE = env.str("BLENDSHOP_TIME_ZONE", "America/New_York")
USE_TZ = True
STATIC_URL = "static/"
STATIC_ROOT = env.path("BLENDSHOP_STATIC_ROOT", BASE_DIR / "staticfiles")
#: Certificates of lots. Served only by views that ask who is looking; there is no media address.
MEDIA_ROOT = env.path("BLENDSHOP_MEDIA_ROOT", BASE_DIR / "media")
STATICFILES_DIRS = [BASE_DIR / "blendshop" / "static"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if DEBUG
        else "blendshop.static_files.HashedModulesStorage"
    },
}
#: The address people reach the site at; goes into mails and QR codes.
SITE_URL = env.str("BLENDSHOP_SITE_URL", "http://127.0.0.1:8000").rstrip("/")
CURRENCY = env.str("BLENDSHOP_CURRENCY", "USD")
QUOTE_LINK_DAYS = env.int("BLENDSHOP_QUOTE_LINK_DAYS", 120)

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:"],  # Bootstrap's own style sheet carries data: images
        "font-src": [SELF],
        "connect-src": [SELF],
        "worker-src": [SELF],
        "manifest-src": [SELF],
        "form-action": [SELF],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
        "object-src": [NONE],
    }
}
X_FRAME_OPTIONS = "DENY"
if not DEBUG:
    SECURE_SSL_REDIRECT = env.bool("BLENDSHOP_SSL_REDIRECT", True)
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    SECURE_HSTS_SECONDS = env.int("BLENDSHOP_HSTS_SECONDS", 31_536_000)
    SECURE_HSTS_INCLUDE_SUBDOMAINS = True
    SECURE_HSTS_PRELOAD = True
    SESSION_COOKIE_SECURE = True
    CSRF_COOKIE_SECURE = True
    ALLAUTH_TRUSTED_PROXY_COUNT = env.int("BLENDSHOP_PROXIES", 1)

#: The last guard around what one request may ask of the engine; its work is counted besides.
REQUEST_SECONDS = env.int("BLENDSHOP_REQUEST_SECONDS", 10)

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

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"console": {"class": "logging.StreamHandler"}},
    "root": {"handlers": ["console"], "level": env.str("BLENDSHOP_LOG_LEVEL", "WARNING")},
}
