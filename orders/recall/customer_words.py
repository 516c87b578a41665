"""What a formulator wrote for customers of a batch that is called back."""

from orders.models import Recall


def customer_words(batch_id: int) -> tuple[str, ...]:
    """The words of each recall that holds the batch and has any."""
    holding = Recall.objects.filter(held__batch=batch_id, freed_at__isnull=True)
    told = holding.exclude(customer_reason="").order_by("pk")
    return tuple(told.values_list("customer_reason", flat=True))
