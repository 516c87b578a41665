from django.apps import AppConfig


class OrdersConfig(AppConfig):
    """Price policy, quotes, orders, batches and their papers."""

    name = "orders"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from formulas.repricing.standing import costs_changed
        from orders.repricing import kind
        from orders.repricing.actions import after_new_costs

        costs_changed.connect(after_new_costs, dispatch_uid=kind.REPRICING.name)
