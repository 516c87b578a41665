"""Issued papers: the snapshot a paper was drawn from, its bytes and their digest."""

from typing import Any, ClassVar, Final

from django.db import models
from django.db.models import Q
from django.db.models.fields.json import KT
from django.utils.translation import gettext_lazy as _

from blendshop.accounts.models import User
from blendshop.immutable import WrittenOnceModel, WrittenOnceQuerySet
from blendshop.roles import STAFF, Role, has_role
from orders.models.batch import Batch, BatchPart
from orders.models.order import Order
from orders.models.quote import Quote
from orders.models.recall import RecallCustomer

_OWNERS: Final = ("quote", "batch", "part", "order", "recall_customer")


#: The layouts of a label; ``LABEL_DRAFT`` is the one on Letter paper, draft or not.
_LABELS: Final = frozenset({"label_draft", "label_placard", "label_small"})


def _owned(owner: str, kinds: list[str]) -> Q:
    """Papers of these kinds belong to the owner and to nothing else."""
    return Q(kind__in=kinds, **{f"{name}__isnull": name != owner for name in _OWNERS})


class PaperQuerySet(WrittenOnceQuerySet):
    def listed(self) -> "PaperQuerySet":
        """Without their bytes, and what ``is_label_draft`` and ``has_english_print`` ask."""
        without: PaperQuerySet = self.defer("pdf", "snapshot").annotate(
            approved_on=KT("snapshot__approved_on"),
            english_number=KT("snapshot__in_english__number"),
        )
        return without

    def visible_to(self, user: User) -> "PaperQuerySet":
        """Quotes follow the quote's own rule; plant papers are for staff."""
        quotes = Quote.objects.visible_to(user)
        batches = Batch.objects.visible_to(user)
        allowed = Q(quote__in=quotes) | Q(batch__in=batches)
        if has_role(user, *STAFF):
            allowed |= (
                Q(order__isnull=False) | Q(part__isnull=False) | Q(recall_customer__isnull=False)
            )
        if has_role(user, Role.CUSTOMER) and user.company_id:
            allowed |= Q(
                part__order_line__order__company=user.company_id,
                kind__in=[Paper.Kind.LABEL_DRAFT, Paper.Kind.CERTIFICATE],
            ) | Q(order__company=user.company_id, kind=Paper.Kind.PACKING_LIST)
        return self.filter(allowed)


class Paper(WrittenOnceModel):
    """A paper as it was issued. A correction is a new paper that names the old one."""

    class Kind(models.TextChoices):
        QUOTE = "quote", _("quote")
        BATCH_TICKET = "batch_ticket", _("batch ticket")
        LABEL_DRAFT = "label_draft", _("label")
        LABEL_PLACARD = "label_placard", _("label placard")
        LABEL_SMALL = "label_small", _("4 by 6 inch label")
        PICK_LIST = "pick_list", _("pick list")
        BATCH_RECORD = "batch_record", _("batch record")
        CERTIFICATE = "certificate", _("certificate of analysis")
        PACKAGE_LABELS = "package_labels", _("package labels")
        PACKING_LIST = "packing_list", _("packing list")
        RECALL_LETTER = "recall_letter", _("recall letter")

    kind = models.CharField(max_length=20, choices=Kind)
    quote = models.ForeignKey(
        Quote, null=True, blank=True, on_delete=models.PROTECT, related_name="papers"
    )
    batch = models.ForeignKey(
        Batch, null=True, blank=True, on_delete=models.PROTECT, related_name="papers"
    )
    part = models.ForeignKey(
        BatchPart, null=True, blank=True, on_delete=models.PROTECT, related_name="papers"
    )
    order = models.ForeignKey(
        Order, null=True, blank=True, on_delete=models.PROTECT, related_name="papers"
    )
    recall_customer = models.ForeignKey(
        RecallCustomer, null=True, blank=True, on_delete=models.PROTECT, related_name="papers"
    )
    replaces = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT)
    snapshot: Any = models.JSONField()
    pdf = models.BinaryField()
    sha256 = models.CharField(max_length=64)
    issued_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    issued_at = models.DateTimeField(auto_now_add=True)

    #: The day its label was approved, of a paper that was ``listed()``; None for a draft.
    approved_on: str | None
    #: What its English print is numbered, of a paper that was ``listed()``; None without one.
    english_number: str | None

    objects: ClassVar = PaperQuerySet.as_manager()

    class Meta:
        ordering = ("-pk",)
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=_owned("quote", ["quote"])
                | _owned("batch", ["batch_ticket", "pick_list", "batch_record", "package_labels"])
                | _owned("part", ["label_draft", "label_placard", "label_small", "certificate"])
                | _owned("order", ["packing_list"])
                | _owned("recall_customer", ["recall_letter"]),
                name="paper_belongs_to_one_record",
                violation_error_message="A paper belongs to one record: a quote, say, or a batch.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.record}"

    @property
    def is_label_draft(self) -> bool:
        """Whether it is a label that says it is a draft; of papers that were ``listed()``."""
        return self.kind in _LABELS and not self.approved_on

    @property
    def has_english_print(self) -> bool:
        """Whether it is written otherwise and can be read in English; of papers ``listed()``."""
        return bool(self.english_number)

    @property
    def record(self) -> Quote | Batch | BatchPart | Order | RecallCustomer:
        """The quote, batch, part, order or recalled customer the paper belongs to."""
        record = self.quote or self.batch or self.part or self.order or self.recall_customer
        if record is None:  # the database refuses such a row
            raise ValueError("A paper belongs to one record: a quote, say, or a batch.")
        return record
