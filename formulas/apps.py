from django.apps import AppConfig


class FormulasConfig(AppConfig):
    """Base stocks, what they cost, what may meet, and the blends made of them."""

    name = "formulas"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        # Kinds of long work have to be known to pages and workers alike.
        from formulas.stocks import catalogue_work  # noqa: F401
