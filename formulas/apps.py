from django.apps import AppConfig
from django.db.models.signals import post_migrate


class FormulasConfig(AppConfig):
    """Base stocks, what they cost, what may meet, and the blends made of them."""

    name = "formulas"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from formulas.catalogue_version.triggers import make_triggers

        # Kinds of long work have to be known to pages and workers alike.
        from formulas.stocks import catalogue_work  # noqa: F401

        post_migrate.connect(make_triggers, sender=self)
