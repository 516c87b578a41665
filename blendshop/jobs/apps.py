from django.apps import AppConfig


class JobsConfig(AppConfig):
    """The task queue, its workers and what recurs."""

    name = "blendshop.jobs"
    label = "jobs"

    def ready(self) -> None:
        from blendshop.jobs import figures

        figures.register()
