from django.apps import AppConfig


class LongWorkConfig(AppConfig):
    """Work that no page waits for but somebody does."""

    name = "blendshop.long_work"
    label = "long_work"

    def ready(self) -> None:
        from blendshop.long_work import figures

        figures.register()
