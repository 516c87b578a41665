from django.apps import AppConfig


class OutboxConfig(AppConfig):
    """Mails that wait to be sent, and what became of them."""

    name = "blendshop.outbox"
    label = "outbox"

    def ready(self) -> None:
        from blendshop.outbox import figures

        figures.register()
