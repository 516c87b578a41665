"""What may meet what in one tank, with the reason and its source."""

from typing import ClassVar

from django.db import models
from django.db.models import F, Q
from simple_history.models import HistoricalRecords

from formulas.models.base_stock import MARK_CHOICES, Trait


class CompatibilityRule(models.Model):
    """A rule between two traits. The solver obeys ``blocks`` and ``limit``."""

    class Effect(models.TextChoices):
        BLOCKS = "blocks", "must not meet"
        LIMIT = "limit", "up to a limit"
        JAR_TEST = "jar_test", "jar test first"
        FINE = "fine", "fine together"

    trait_a = models.ForeignKey(Trait, on_delete=models.PROTECT, related_name="rules_as_a")
    trait_b = models.ForeignKey(Trait, on_delete=models.PROTECT, related_name="rules_as_b")
    effect = models.CharField(max_length=10, choices=Effect)
    largest_pct = models.FloatField(
        null=True, blank=True, help_text="Limit: largest share of the first, % of the blend."
    )
    largest_ratio = models.FloatField(
        null=True, blank=True, help_text="Limit: lb of the first per lb of the second."
    )
    reason = models.CharField(max_length=400)
    source = models.CharField(max_length=400)
    mark = models.CharField(max_length=40, choices=MARK_CHOICES)
    active = models.BooleanField(default=True)

    history = HistoricalRecords()

    class Meta:
        ordering = ("trait_a__code", "trait_b__code", "pk")
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["trait_a", "trait_b"],
                name="compatibility_rule_is_given_once",
                violation_error_message="There is already a rule for these two traits.",
            ),
            models.CheckConstraint(
                condition=~Q(trait_a=F("trait_b")),
                name="compatibility_rule_names_two_traits",
                violation_error_message="A rule is between two different traits.",
            ),
            models.CheckConstraint(
                condition=(
                    Q(effect="limit", largest_pct__isnull=False, largest_ratio__isnull=True)
                    | Q(effect="limit", largest_pct__isnull=True, largest_ratio__isnull=False)
                    | Q(largest_pct__isnull=True, largest_ratio__isnull=True) & ~Q(effect="limit")
                ),
                name="compatibility_limit_has_one_figure",
                violation_error_message="A limit needs either a share or a ratio; others none.",
            ),
            models.CheckConstraint(
                condition=Q(largest_pct__isnull=True) | Q(largest_pct__gt=0, largest_pct__lte=100),
                name="compatibility_limit_share_is_a_percentage",
                violation_error_message="The largest share is above 0 and at most 100 percent.",
            ),
            models.CheckConstraint(
                condition=Q(largest_ratio__isnull=True) | Q(largest_ratio__gt=0),
                name="compatibility_limit_ratio_is_positive",
                violation_error_message="The largest ratio is above zero.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.trait_a.code} with {self.trait_b.code}: {self.get_effect_display()}"
