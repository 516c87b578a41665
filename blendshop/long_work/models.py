"""A piece of long work with its parts: who asked for what, how far it is, what came out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from blendshop.long_work.kinds import kinds_for
from blendshop.roles import roles_of

if TYPE_CHECKING:
    from django.contrib.auth.models import AbstractUser, AnonymousUser


class LongWorkQuerySet(models.QuerySet["LongWork"]):
    def visible_to(self, user: AbstractUser | AnonymousUser) -> LongWorkQuerySet:
        """The own work of kinds the user's roles may ask for, and others' where it is shared."""
        kinds = list(kinds_for(roles_of(user)))
        shared = [kind.name for kind in kinds if kind.is_shared]
        own = [kind.name for kind in kinds if not kind.is_shared]
        return self.filter(Q(kind__in=shared) | Q(kind__in=own, asked_by_id=user.pk))

    def open(self) -> LongWorkQuerySet:
        """What waits or is being worked on."""
        return self.filter(state__in=LongWork.OPEN)


class LongWork(models.Model):
    """One piece of long work.

    ``same_as`` is the digest of the question: while the answer is open or done, who asks the same
    again gets this row. ``combined_by`` is the number of the part that was finished last.
    """

    class State(models.TextChoices):
        WAITING = "waiting", _("waiting")
        WORKING = "working", _("being worked on")
        DONE = "done", _("done")
        FAILED = "failed", _("went wrong")
        CALLED_OFF = "called_off", _("called off")

    OPEN: ClassVar = (State.WAITING, State.WORKING)

    kind = models.CharField(max_length=60)
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    #: Who asked, as it is shown; the plant itself has no name.
    who = models.CharField(max_length=160, blank=True)
    arguments: Any = models.JSONField(default=dict)
    same_as = models.CharField(max_length=64, blank=True)
    parts = models.PositiveIntegerField(default=1)
    parts_done = models.PositiveIntegerField(default=0)
    combined_by = models.PositiveIntegerField(null=True)
    state = models.CharField(max_length=10, choices=State.choices, default=State.WAITING)
    says = models.CharField(max_length=400, blank=True)
    result: Any = models.JSONField(null=True)
    #: What the asker brought, and what was made; neither has an address of its own.
    upload = models.FileField(upload_to="long_work/%Y/", max_length=200, blank=True)
    download = models.FileField(upload_to="long_work/%Y/", max_length=200, blank=True)
    download_name = models.CharField(max_length=120, blank=True)
    asked_at = models.DateTimeField(auto_now_add=True)
    begun_at = models.DateTimeField(null=True)
    ended_at = models.DateTimeField(null=True)

    objects = LongWorkQuerySet.as_manager()

    class Meta:
        indexes: ClassVar = [
            models.Index(fields=["kind", "-id"], name="long_work_of_kind"),
            models.Index(
                fields=["state"],
                condition=Q(state__in=("waiting", "working")),
                name="long_work_open",
            ),
        ]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["kind", "same_as"],
                condition=~Q(same_as="") & Q(state__in=("waiting", "working", "done")),
                name="long_work_asked_once",
                violation_error_message="The same is being worked out already.",
            ),
            models.CheckConstraint(
                condition=Q(parts__gte=1, parts_done__lte=F("parts")),
                name="long_work_has_parts",
                violation_error_message="Work has at least one part, and no more done than it has.",
            ),
            models.CheckConstraint(
                condition=Q(state__in=("waiting", "working"), ended_at__isnull=True)
                | (~Q(state__in=("waiting", "working")) & Q(ended_at__isnull=False)),
                name="long_work_ends_at_a_time",
                violation_error_message="Work that has ended says when; open work does not.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.pk}"

    @property
    def is_open(self) -> bool:
        return self.state in self.OPEN


class WorkPart(models.Model):
    """One part of a piece of long work; its rows go when the work is done."""

    work = models.ForeignKey(LongWork, on_delete=models.CASCADE, related_name="work_parts")
    number = models.PositiveIntegerField()
    task_id = models.CharField(max_length=40, blank=True)
    answer: Any = models.JSONField(null=True)
    finished_at = models.DateTimeField(null=True)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["work", "number"],
                name="work_part_once",
                violation_error_message="Each part of a piece of work is there once.",
            ),
        ]

    def __str__(self) -> str:
        return f"part {self.number} of {self.work_id}"
