"""A batch's filled packages to their labels."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from django.conf import settings
from django.urls import reverse
from django.utils.translation import override

from blendshop.errors import IllegalMove
from orders.models import Batch, BatchPart, PackageSerial, PlantProfile
from orders.papers import plant_view_models as paper
from orders.production.made_record import made_record
from orders.production.sold_as import batch_grade, sold_as
from orders.records.letterhead import plant_block


@override(settings.LANGUAGE_CODE)
def package_labels_view(batch: Batch, stock: str = "") -> paper.PackageLabelsView:
    """A label for every filled package, on a ``stock``; IllegalMove while there is none."""
    record = made_record(batch)
    if not record.packages:
        raise IllegalMove(f"No package of {batch.number} is filled yet; there is nothing to label.")
    parts = {part.pk: part for part in batch.parts.all()}
    grades = {pk: sold_as(record, part).grade for pk, part in parts.items()}
    return paper.PackageLabelsView(
        plant=plant_block(PlantProfile.load()),
        number=batch.number,
        product_name=record.plan.product_name,
        grade=batch_grade(record),
        packages=tuple(_labelled(record.packages, parts, grades)),
        stock=stock,
    )


def _labelled(
    packages: Sequence[PackageSerial], parts: Mapping[int, BatchPart], grades: Mapping[int, str]
) -> Iterator[paper.LabelledPackage]:
    """Each package, counted within its part; filled beyond what was planned the count grows."""
    filled = Counter(package.part_id for package in packages)
    so_far: Counter[int] = Counter()
    for package in packages:
        part = parts[package.part_id]
        to = part.consignment
        so_far[part.pk] += 1
        yield paper.LabelledPackage(
            serial=package.serial,
            net_lb=package.net_lb,
            package_name=to.package.name,
            customer_name=to.customer_name,
            product_name=part.product_name,
            grade=grades[part.pk],
            position=so_far[part.pk],
            of=max(part.package_count, filled[part.pk]),
            order_number=to.order_number,
            page_url=settings.SITE_URL + reverse("package_page", args=[package.serial]),
        )
