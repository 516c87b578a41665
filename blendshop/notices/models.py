"""A notice: one row for each person told, so that the bell counts one narrow index.

What a role is told of is few rows, as a plant has few people; each reads and is mailed alone.
"""

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _


class How(models.TextChoices):
    """How somebody wants to be told of a kind."""

    NOT = "not", _("not at all")
    PAGE = "page", _("on the page")
    DAILY = "daily", _("on the page, and in a mail once a day")
    MAIL = "mail", _("on the page, and by mail at once")


class NoticeQuerySet(models.QuerySet["Notice"]):
    def unread(self) -> "NoticeQuerySet":
        return self.filter(read_at=None)


class Notice(models.Model):
    """One person is told one thing, or of several of the same kind at once."""

    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="notices"
    )
    kind = models.CharField(max_length=40)
    text = models.CharField(max_length=400)
    #: The path of the page it is about.
    link = models.CharField(max_length=200)
    at = models.DateTimeField(default=timezone.now)
    read_at = models.DateTimeField(null=True)
    #: Goes into the next daily mail, unless it is read before.
    waits_for_daily = models.BooleanField(default=False)

    objects = NoticeQuerySet.as_manager()

    class Meta:
        indexes: ClassVar = [
            models.Index(fields=["person", "-at", "-id"], name="notice_newest"),
            models.Index(
                fields=["person", "kind"], condition=Q(read_at=None), name="notice_unread"
            ),
            models.Index(
                fields=["person"], condition=Q(waits_for_daily=True), name="notice_for_daily"
            ),
        ]

    def __str__(self) -> str:
        return self.text


class NoticeCause(models.Model):
    """What a notice tells of: under one key a person is told once."""

    notice = models.ForeignKey(Notice, on_delete=models.CASCADE, related_name="causes")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    key = models.CharField(max_length=120)
    #: As it is named where several are told of together.
    name = models.CharField(max_length=120)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["person", "key"],
                name="told_once",
                violation_error_message="This person was told of it before.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class NoticeChoice(models.Model):
    """How one person wants to be told of one kind; without a row as is usual for the role."""

    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="notice_choices"
    )
    kind = models.CharField(max_length=40)
    how = models.CharField(max_length=10, choices=How.choices)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["person", "kind"],
                name="one_choice_a_kind",
                violation_error_message="This person has chosen for this kind already.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind}: {self.get_how_display()}"
