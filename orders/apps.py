from django.apps import AppConfig


class OrdersConfig(AppConfig):
    """Price policy, quotes, orders, batches and their papers."""

    name = "orders"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from formulas.repricing.standing import costs_changed

        # Kinds of long work and of notices have to be known to pages and workers alike.
        from orders.allocation import planning_work  # noqa: F401
        from orders.compliance import notices as of_law  # noqa: F401
        from orders.compliance import tonnage_work  # noqa: F401
        from orders.cost_change import (  # noqa: F401
            impact_work,
            notices,
            quote_work,
            table_work,
        )
        from orders.customers import notices as of_customers  # noqa: F401
        from orders.inventory import notices as of_stock  # noqa: F401
        from orders.labels import notices as of_labels  # noqa: F401
        from orders.ordering import notices as of_orders  # noqa: F401
        from orders.papers import attached_papers, label_work  # noqa: F401
        from orders.production import notices as of_batches  # noqa: F401
        from orders.questions import notices as of_questions  # noqa: F401
        from orders.quoting import notices as of_quotes  # noqa: F401
        from orders.repricing import notices as of_margins  # noqa: F401
        from orders.repricing import repricing_work
        from orders.repricing.actions import after_new_costs
        from orders.season import notices as of_seasons  # noqa: F401
        from orders.tracing import trace_work  # noqa: F401
        from orders.year_figures import figures_work  # noqa: F401

        attached_papers.register()
        costs_changed.connect(after_new_costs, dispatch_uid=repricing_work.REPRICING.name)
