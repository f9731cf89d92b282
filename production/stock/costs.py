"""Plaster in stock, and the cost of a job's materials."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Sum

from production.stock.models import Material, StockMove
from studio.accounts.models import Unit
from studio.jobs.models import Job


@dataclass(frozen=True, slots=True)
class MaterialInStock:
    """A material, its stock in base units, and whether the work ahead needs more."""

    material: Material
    stock: int
    is_short: bool
    """The work will take more than the books hold."""

    @property
    def words(self) -> str:
        return f"The books hold {self.material.say(self.stock)} of {self.material}"


def plaster_in_stock(unit: Unit, plaster_g: float) -> list[MaterialInStock]:
    """Return the plasters for pours, each with whether `plaster_g` exceeds its stock. One query."""
    return [
        MaterialInStock(each, stock, plaster_g > stock)
        for each in unit.materials.used_at(Material.UsedAt.POUR).with_stock()
        for stock in [int(each.stock)]  # type: ignore[attr-defined]  # of `with_stock`
    ]


def material_costs(jobs: Iterable[Job]) -> dict[int, int]:
    """Return the cost of the materials of these jobs, less returns, in minor units, by primary key. One query.

    Exact: costs of all jobs, of use without a job, and of the remaining stock add up to the cost of the lots.
    """
    costs = {job.pk: 0 for job in jobs}
    sums = StockMove.objects.filter(job__in=costs).order_by().values_list("job_id")
    costs.update((job_id, -(value or 0)) for job_id, value in sums.annotate(Sum("value_minor")))
    return costs
