"""A mail: written in the transaction that causes it, then sent, or given up and still there."""

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _


class MailQuerySet(models.QuerySet["Mail"]):
    def about(self, kind: str, key: str) -> "MailQuerySet":
        """The mails of one record, such as ``("quote", "Q-2026-0001")``, oldest first."""
        return self.filter(about_kind=kind, about_key=key).order_by("pk")

    def not_delivered(self) -> "MailQuerySet":
        """Given up, and nobody has said that this is well."""
        return self.filter(state=Mail.State.DEAD, set_aside_at=None)


class Mail(models.Model):
    """One mail to one address. ``claimed_until`` is set while a worker talks to the mail server."""

    class State(models.TextChoices):
        WAITING = "waiting", _("waiting")
        SENT = "sent", _("sent")
        DEAD = "dead", _("not delivered")

    to = models.EmailField()
    from_address = models.CharField(max_length=320)
    #: Who reads an answer; empty: whoever reads the mails to the sender.
    reply_to = models.EmailField(blank=True)
    subject = models.CharField(max_length=200)
    #: Empty once a mail with a secret is sent.
    text = models.TextField(blank=True)
    has_secret = models.BooleanField(default=False)
    #: A file kept elsewhere, by kind and key; ``attachments`` reads it when the mail goes out.
    attached_kind = models.CharField(max_length=20, blank=True)
    attached_key = models.CharField(max_length=40, blank=True)
    #: The same at every try: a mail that was sent twice can be known by it.
    message_id = models.CharField(max_length=200, unique=True)
    about_kind = models.CharField(max_length=20)
    about_key = models.CharField(max_length=40)
    caused_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        on_delete=models.SET_NULL,
        related_name="+",
    )
    state = models.CharField(max_length=10, choices=State.choices, default=State.WAITING)
    tries = models.PositiveSmallIntegerField(default=0)
    next_try_at = models.DateTimeField()
    claimed_until = models.DateTimeField(null=True)
    last_error = models.CharField(max_length=300, blank=True)
    created_at = models.DateTimeField(auto_now_add=True)
    sent_at = models.DateTimeField(null=True)
    #: When the office said that a mail that was given up need not go out.
    set_aside_at = models.DateTimeField(null=True)

    objects = MailQuerySet.as_manager()

    class Meta:
        indexes: ClassVar = [
            models.Index(fields=["about_kind", "about_key"]),
            models.Index(fields=["next_try_at"], condition=Q(state="waiting"), name="mail_waiting"),
            models.Index(
                fields=["id"],
                condition=Q(state="dead", set_aside_at=None),
                name="mail_not_delivered",
            ),
        ]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(state="sent", sent_at__isnull=False)
                | (~Q(state="sent") & Q(sent_at__isnull=True)),
                name="mail_is_sent_at_a_time",
                violation_error_message="A mail that is sent says when; any other does not.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.subject} to {self.to}"
