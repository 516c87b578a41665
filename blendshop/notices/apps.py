from django.apps import AppConfig


class NoticesConfig(AppConfig):
    """What people of the plant are told, on a page and by mail as each has chosen."""

    name = "blendshop.notices"
    label = "notices"
