from django.apps import AppConfig


class FormulasConfig(AppConfig):
    """Base stocks, what they cost, what may meet, and the blends made of them."""

    name = "formulas"
    default_auto_field = "django.db.models.BigAutoField"
