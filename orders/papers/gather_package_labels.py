"""A batch's filled packages to their labels."""

from __future__ import annotations

from django.conf import settings
from django.utils.translation import override

from blendshop.errors import IllegalMove
from orders.models import Batch, PlantProfile
from orders.papers import plant_view_models as paper
from orders.production.made_record import made_record
from orders.production.sold_as import batch_grade, sold_as
from orders.records.letterhead import plant_block


@override(settings.LANGUAGE_CODE)
def package_labels_view(batch: Batch) -> paper.PackageLabelsView:
    """A label for every filled package; IllegalMove while there is none."""
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
        packages=tuple(
            paper.LabelledPackage(
                serial=package.serial,
                net_lb=package.net_lb,
                package_name=parts[package.part_id].consignment.package.name,
                customer_name=parts[package.part_id].consignment.customer_name,
                product_name=parts[package.part_id].product_name,
                grade=grades[package.part_id],
            )
            for package in record.packages
        ),
    )
