from django.apps import AppConfig


class OrdersConfig(AppConfig):
    """Price policy, quotes, orders, batches and their papers."""

    name = "orders"
    default_auto_field = "django.db.models.BigAutoField"
