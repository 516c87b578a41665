from django.apps import AppConfig


class OrdersConfig(AppConfig):
    """Price policy, quotes, orders, batches and their papers."""

    name = "orders"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from formulas.repricing.standing import costs_changed

        # Kinds of long work have to be known to pages and workers alike.
        from orders.allocation import planning_work  # noqa: F401
        from orders.compliance import tonnage_work  # noqa: F401
        from orders.cost_change import impact_work, quote_work, table_work  # noqa: F401
        from orders.papers import attached_papers, label_work  # noqa: F401
        from orders.repricing import repricing_work
        from orders.repricing.actions import after_new_costs
        from orders.tracing import trace_work  # noqa: F401

        attached_papers.register()
        costs_changed.connect(after_new_costs, dispatch_uid=repricing_work.REPRICING.name)
