"""How a customer sprays: what the last saved wish said."""

from django.db import models

from blendshop.accounts.models import Company


class SprayHabit(models.Model):
    """The last rate, spray volume and place of a customer; per 1,000 sq ft.

    ``state``, ``county`` and ``place`` are empty where it is sprayed at the ship-to.
    """

    company = models.OneToOneField(Company, on_delete=models.CASCADE, related_name="spray_habit")
    n_rate_lb_per_1000sqft = models.FloatField()
    carrier_gal_per_1000sqft = models.FloatField()
    state = models.CharField(max_length=2, blank=True)
    county = models.CharField(max_length=120, blank=True)
    place = models.CharField(max_length=120, blank=True)

    def __str__(self) -> str:
        return (
            f"{self.company}: {self.n_rate_lb_per_1000sqft:g} lb N in "
            f"{self.carrier_gal_per_1000sqft:g} gal"
        )
