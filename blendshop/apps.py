from django.apps import AppConfig


class BlendshopConfig(AppConfig):
    """Settings, routing and what both apps share; no tables of its own."""

    name = "blendshop"
