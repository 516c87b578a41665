"""What a batch was made into: the one record its label, certificate and every other paper read.

What was charged, from which lots, onto which heel; the reading that counts; the packages with
their weights. Nobody else puts these together, so that no two papers say different figures.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from formulas.engine.composition import content_pct
from formulas.engine.label.assay_check import Verdict
from formulas.engine.label.printed_figures import PRECISION_PCT
from formulas.engine.plant.as_made import AsMade, GuaranteeAsMade
from orders.frozen.load_plan import LoadPlan
from orders.frozen.tank_contents import TankContents
from orders.models import Batch, BatchPart, PackageSerial, QualityReading
from orders.production.as_made import made_onto
from orders.production.density_read import BatchDensity, counting_readings, density_of
from orders.production.steps import Step, steps_of_batches
from orders.tanks.mixing import under_batches

#: States in which the plan's figures still stand for the batch.
_NOT_MADE = (Batch.Status.PLANNED, Batch.Status.CHARGING)


@dataclass(frozen=True, slots=True)
class MadeRecord:
    """A batch as it was made.

    ``steps`` with the charges that count and their lots; ``heel`` is what it was begun on.
    ``made`` follows from both: None while nothing was charged, and for a batch whose weights were
    never written down. ``reading`` is the counting one; ``packages`` in the order they were filled.
    """

    batch: Batch
    steps: tuple[Step, ...]
    heel: TankContents | None
    made: AsMade | None
    reading: QualityReading | None
    packages: tuple[PackageSerial, ...]

    @property
    def plan(self) -> LoadPlan:
        return self.batch.load_plan

    @property
    def complete(self) -> AsMade | None:
        """What was made, once all of it is in; None before, and where no weight is known."""
        return None if self.batch.status in _NOT_MADE else self.made

    @property
    def analysis(self) -> Mapping[str, float]:
        """Percent by weight with total N: as made, before that as planned."""
        return self.plan.analysis if self.complete is None else self.complete.analysis

    @property
    def density(self) -> BatchDensity:
        """What every paper states: as read; without a reading that counts, as worked out.

        The plan's stands for a load that keeps it until the reading is taken; one that is
        released without a reading has what its weights make.
        """
        if self.reading is not None:
            return density_of(self.reading)
        at_f = self.plan.density_window.temperature_f
        if self.complete is None or self._plan_stands:
            return BatchDensity(self.plan.density_lb_per_gal, at_f, is_read=False)
        return BatchDensity(self.complete.density_lb_per_gal, at_f, is_read=False)

    @property
    def shortfalls(self) -> tuple[GuaranteeAsMade, ...]:
        """Guarantees that what was charged does not hold, also within their allowance."""
        if self.complete is None:
            return ()
        checks = self.complete.guarantees
        return tuple(check for check in checks if check.verdict is not Verdict.MEETS)

    def packages_of(self, part: BatchPart) -> tuple[PackageSerial, ...]:
        """The packages that go to the part's order, in the order they were filled.

        What was filled beyond the order stays in the plant: the last ones of a part.
        """
        filled = [package for package in self.packages if package.part_id == part.pk]
        return tuple(ordered_packages(part, filled))

    @property
    def _plan_stands(self) -> bool:
        if self.batch.status == Batch.Status.RELEASED or not self.plan.has_tolerances:
            return False
        if {step.code for step in self.steps} != {step.code for step in self.plan.steps}:
            return False
        return all(
            float(pct) <= content_pct(self.analysis, key) + PRECISION_PCT
            for key, pct in self.plan.printed_pct.items()
        )


def made_record(batch: Batch) -> MadeRecord:
    """The record of a batch as it stands, in a fixed number of queries."""
    return made_records([batch])[batch.pk]


def made_records(batches: Iterable[Batch]) -> dict[int, MadeRecord]:
    """The records of many batches by their ids, in the queries of one.

    Each batch brings its lowered promises, or is asked for them by itself.
    """
    of = list({batch.pk: batch for batch in batches}.values())
    steps, heels, readings = steps_of_batches(of), under_batches(of), counting_readings(of)
    packages: dict[int, list[PackageSerial]] = defaultdict(list)
    filled = PackageSerial.objects.filter(part__batch__in=of).select_related("part")
    for package in filled.order_by("pk"):
        packages[package.part.batch_id].append(package)
    return {
        batch.pk: MadeRecord(
            batch=batch,
            steps=tuple(steps[batch.pk]),
            heel=heels.get(batch.pk),
            made=made_onto(batch, steps[batch.pk], heels.get(batch.pk)),
            reading=readings.get(batch.pk),
            packages=tuple(packages[batch.pk]),
        )
        for batch in of
    }


def densities(batch_ids: Iterable[int]) -> dict[int, BatchDensity]:
    """``MadeRecord.density`` of many batches by their ids: read, else from their records."""
    wanted = set(batch_ids)
    found = {pk: density_of(reading) for pk, reading in counting_readings(wanted).items()}
    if missing := wanted - found.keys():
        batches = Batch.objects.filter(pk__in=missing).prefetch_related("lowered_promises")
        found |= {pk: record.density for pk, record in made_records(batches).items()}
    return found


def ordered_packages(part: BatchPart, filled: list[PackageSerial]) -> list[PackageSerial]:
    """Of a part's packages those of its order: in bulk all, else no more than were ordered."""
    own = sorted(filled, key=lambda package: package.pk)
    return own if part.is_bulk else own[: part.package_count]
