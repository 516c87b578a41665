from django.apps import AppConfig


class OutboxConfig(AppConfig):
    """Mails that wait to be sent, and what became of them."""

    name = "blendshop.outbox"
    label = "outbox"
