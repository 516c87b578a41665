"""The memory of the tanks: what is in each, since when and signed by whom. Written once.

What is in a tank now is its newest entry; a tank without one is not known, which a person settles
by looking and signing, or by a rinse.
"""

from collections.abc import Mapping
from typing import Any, ClassVar

from django.db import models
from django.db.models import OuterRef, Q, Subquery
from django.utils.translation import gettext_lazy as _

from blendshop.immutable import WrittenOnceModel, WrittenOnceQuerySet
from blendshop.snapshot import StoredIn
from orders.frozen.tank_contents import TankContents
from orders.models.batch import Batch
from orders.models.charging import TankRinse
from orders.models.idempotent_record import IdempotentRecord
from orders.models.policy import Tank


class TankEntryQuerySet(WrittenOnceQuerySet):
    def newest(self) -> "TankEntryQuerySet":
        """The entry of each tank that holds now, with its batch."""
        of_tank = TankEntry.objects.filter(tank=OuterRef("pk")).order_by("-pk").values("pk")
        # Of each tank the end of an index; the newest of all entries would be found in all of them.
        newest = Tank.objects.order_by().annotate(newest=Subquery(of_tank[:1]))
        return self.filter(pk__in=newest.values("newest")).select_related("batch")


class TankEntry(IdempotentRecord):
    """One thing that happened to a tank, and what was in it afterwards.

    ``contents`` is the JSON of ``held``. ``batch`` is the one that was begun, finished, drained
    or found. An entry that a batch was begun carries what it was begun on.
    """

    class Kind(models.TextChoices):
        LOOKED = "looked", _("looked and signed")
        BEGUN = "begun", _("charging begun")
        FINISHED = "finished", _("batch finished")
        DRAINED = "drained", _("drained")
        RINSED = "rinsed", _("rinsed")

    # The index of Meta begins with this column; Django's own would only double it.
    tank = models.ForeignKey(Tank, on_delete=models.PROTECT, related_name="ledger", db_index=False)
    kind = models.CharField(max_length=10, choices=Kind)
    batch = models.ForeignKey(
        Batch, null=True, blank=True, on_delete=models.PROTECT, related_name="tank_entries"
    )
    rinse = models.OneToOneField(
        TankRinse, null=True, blank=True, on_delete=models.PROTECT, related_name="entry"
    )
    contents: "models.JSONField[Mapping[str, Any], object]" = models.JSONField()
    note = models.CharField(max_length=400, blank=True)

    held = StoredIn(TankContents, "contents")

    objects: ClassVar = TankEntryQuerySet.as_manager()

    class Meta(IdempotentRecord.Meta):
        verbose_name_plural = "tank entries"
        indexes: ClassVar = [models.Index(fields=["tank", "-id"], name="tank_entry_newest_of_tank")]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(kind__in=["looked", "begun", "finished", "drained", "rinsed"]),
                name="tank_entry_kind_is_known",
                violation_error_message="This is not something that happens to a tank.",
            ),
            models.CheckConstraint(
                condition=Q(kind__in=["looked", "drained", "rinsed"]) | Q(batch__isnull=False),
                name="tank_entry_of_a_batch_names_it",
                violation_error_message="Say which batch was begun or finished in the tank.",
            ),
            models.CheckConstraint(
                condition=~Q(who=""),
                name="tank_entry_is_signed",
                violation_error_message="An entry about a tank is signed.",
            ),
            models.UniqueConstraint(
                fields=["batch"],
                condition=Q(kind="begun"),
                name="tank_entry_begins_a_batch_once",
                violation_error_message="The batch is begun already.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.tank}: {self.get_kind_display()}"


class HeelCarried(WrittenOnceModel):
    """So much of one batch that was in the tank when another was begun on it.

    Through heels of heels: each earlier batch has a row of its own. ``share`` (0 to 1) is of all
    that was charged for the earlier batch, so a lot's pounds in it times the share went over.
    """

    entry = models.ForeignKey(TankEntry, on_delete=models.PROTECT, related_name="carried")
    of = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="heel_went_into")
    into = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="heel_came_from")
    mass_lb = models.FloatField("carried over, lb")
    share = models.FloatField("share of all charged for the earlier batch")

    class Meta:
        verbose_name_plural = "heels carried"
        ordering = ("pk",)
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["into", "of"],
                name="heel_carried_once_from_a_batch",
                violation_error_message="What this batch left is written down already.",
            ),
            models.CheckConstraint(
                condition=Q(mass_lb__gt=0, share__gt=0) & ~Q(of=models.F("into")),
                name="heel_carried_is_something_of_another_batch",
                violation_error_message="A heel is something of another batch.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.mass_lb:g} lb of {self.of} under {self.into}"
