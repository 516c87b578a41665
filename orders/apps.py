from django.apps import AppConfig


class OrdersConfig(AppConfig):
    """Price policy, quotes, orders, batches and their papers."""

    name = "orders"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        # Kinds of long work have to be known to pages and workers alike.
        from orders.allocation import planning_work  # noqa: F401
        from orders.compliance import tonnage_work  # noqa: F401
        from orders.papers import label_work  # noqa: F401
        from orders.tracing import trace_work  # noqa: F401
