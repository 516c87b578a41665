"""What the codes on a label, a package and a certificate lead its customer to."""

from __future__ import annotations

from dataclasses import dataclass

from blendshop.accounts.models import User
from orders.models import BatchPart, PackageSerial, Paper, PlantProfile, SafetySheet
from orders.papers.standing_texts import told_to_customers
from orders.papers.wording import deference
from orders.planning.mixture import planned_hazards
from orders.planning.parts import filling_words
from orders.portal.lot_papers import has_blend_sheet, papers_of_parts, sheets_of_parts
from orders.recall.customer_words import customer_words
from orders.records.plant_words import package_words


@dataclass(frozen=True, slots=True)
class Delivered:
    """A customer's part of a batch, or one package of it, with what it may read of it.

    ``recalled`` are the words a formulator wrote for the customer while the part is called back.
    """

    part: BatchPart
    package: PackageSerial | None
    filling: str
    papers: tuple[Paper, ...]
    sheets: tuple[SafetySheet, ...]
    cautions: tuple[str, ...]
    recalled: tuple[str, ...]
    plant: PlantProfile

    @property
    def has_blend_sheet(self) -> bool:
        """Whether there is a safety data sheet of the product itself."""
        return has_blend_sheet(self.sheets)


def delivered(part: BatchPart, user: User, package: PackageSerial | None = None) -> Delivered:
    """The part, or the package, as its customer sees it."""
    plan = part.batch.load_plan
    told = [text.text for text in told_to_customers(plan.analysis, planned_hazards(plan))]
    return Delivered(
        part=part,
        package=package,
        filling=package_words(part.consignment.package.name, 1) if package else filling_words(part),
        papers=papers_of_parts([part], user)[part.pk],
        sheets=sheets_of_parts([part], user)[part.pk],
        cautions=(*told, deference()),
        recalled=customer_words(part.batch_id),
        plant=PlantProfile.load(),
    )
