"""What the stores hold, and what it cost the jobs."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Sum

from production.stock.models import Material, StockMove
from studio.accounts.models import Unit
from studio.jobs.models import Job


@dataclass(frozen=True, slots=True)
class MaterialInStock:
    """What the books hold of a material that work is about to take of."""

    material: Material
    stock: int
    is_short: bool
    """The work will take more than the books hold."""

    @property
    def words(self) -> str:
        return f"The books hold {self.material.say(self.stock)} of {self.material}"


def plaster_in_stock(unit: Unit, plaster_g: float) -> list[MaterialInStock]:
    """The plasters that a pour of so many grams may take of; none where no such stores are kept."""
    return [
        MaterialInStock(each, stock, plaster_g > stock)
        for each in unit.materials.used_at(Material.UsedAt.POUR).with_stock()
        for stock in [int(each.stock)]  # type: ignore[attr-defined]  # of `with_stock`
    ]


def material_cost_minor(job: Job) -> int:
    """What the materials of a job cost: what was used for it, less what came back. One query."""
    return material_costs([job])[job.pk]


def material_costs(jobs: Iterable[Job]) -> dict[int, int]:
    """What the materials of each of these jobs cost, by the job's number. One query.

    To the penny: over all jobs, what was used for none, and what is left, it adds up to what the
    lots cost.
    """
    costs = {job.pk: 0 for job in jobs}
    sums = StockMove.objects.filter(job__in=costs).order_by().values_list("job_id")
    costs.update((job_id, -(value or 0)) for job_id, value in sums.annotate(Sum("value_minor")))
    return costs
