from django.apps import AppConfig, apps
from django.contrib.admin.apps import AdminConfig
from django.contrib.staticfiles.apps import StaticFilesConfig
from django.db.models.signals import post_migrate


class BlendshopConfig(AppConfig):
    """Settings, routing and what both apps share; no tables of its own."""

    name = "blendshop"

    def ready(self) -> None:
        from blendshop.shared_cache import make_table

        # Sent once for each app that has tables; this one has none.
        post_migrate.connect(make_table, sender=apps.get_app_config("accounts"))


class BackOfficeConfig(AdminConfig):
    """The framework's back office, with a front of the house's own."""

    default_site = "blendshop.back_office_site.BackOffice"


class UsedStaticFiles(StaticFilesConfig):
    """Collects what pages load; libraries bring five times as much."""

    ignore_patterns = [
        *StaticFilesConfig.ignore_patterns,
        "*.map",
        "*.rtl.*",
        "bootstrap-*.css",
        "bootstrap.bundle.js",
        "bootstrap.css",
        "bootstrap.esm.*",
        "bootstrap.js",
        "bootstrap.min.js",
        "blend-page.png",  # README's
        "ext",  # of htmx
        "htmax-*",
        "htmx-2.js",
        "htmx-4.*",
        "jquery.js",
        "oauth2-redirect.*",
        "redoc",
        "rest_framework",  # its pages; here the API speaks JSON only
        "select2.full.js",
        "xregexp.js",
    ]
