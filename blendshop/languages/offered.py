"""The languages and systems of units a person, a company or the house may choose."""

from django.db import models
from django.utils.translation import gettext_lazy as _


class Language(models.TextChoices):
    """Each under its own name, so that whoever looks for it can read it."""

    ENGLISH = "en", "English"
    SPANISH = "es", "Español"


class UnitSystem(models.TextChoices):
    US = "us", _("US units: lb, gal, acre, lb per 1,000 sq ft")
    METRIC = "metric", _("metric: kg, L, ha, g/m²")
