"""Bench of the demo: pours all waiting prints in one mix each evening, and computes the masses of casts."""

from datetime import datetime
from uuid import UUID, uuid5

from demo_data.clock import Clock
from production import plaster
from production.bench import actions
from production.casts import mixes
from production.casts import pieces as casts_pieces
from production.casts.models import Cast, Pour
from studio.accounts.models import Unit, User
from studio.jobs.models import Job

# The rest sticks to the clay.
_POURED_SHARE = 0.99
_STEP_G = 10
# Of ten evenings: how much of the mix stays in the bucket, in percent.
_LEFT_PERCENT = (4, 6, 3, 5, 8, 4, 5, 7, 3, 5)


class Bench:
    """Pours once an evening for all jobs; the prints of a job are left out until it is released."""

    def __init__(self, unit: Unit, owner: User, clock: Clock, namespace: UUID) -> None:
        self.unit, self.owner, self.clock, self.namespace = unit, owner, clock, namespace
        self.resting: set[int] = set()
        self.fresh_g: dict[int, float] = {}

    def rest(self, job: Job) -> None:
        self.resting.add(job.pk)

    def release(self, job: Job) -> None:
        self.resting.discard(job.pk)

    def pour(self, at: datetime) -> Pour:
        key = uuid5(self.namespace, f"pour {at.isoformat()}")
        if earlier := self.unit.pours.filter(key=key).first():
            return earlier
        pieces = list(casts_pieces.pieces_to_pour(self.unit).exclude(job__in=self.resting))
        kind = self.unit.plasters.in_use().get(usual=True)
        day = self.clock.local_day(at)
        mix = mixes.predicted_mix(pieces, mixes.mixing_of(self.unit), day)
        plaster_g = round(mix.plaster_g / _STEP_G) * _STEP_G
        water_g = round(plaster_g * kind.consistency / 100)
        left_percent = _LEFT_PERCENT[day.toordinal() % len(_LEFT_PERCENT)]
        return actions.pour(
            self.unit,
            pieces=pieces,
            plaster_g=plaster_g,
            water_g=water_g,
            consistency=kind.consistency,
            kind=kind,
            left_g=round((plaster_g + water_g) * left_percent / 100),
            by=self.owner,
            at=at,
            key=key,
        )

    def mass_g(self, cast: Cast, water_left: float) -> float:
        """Mass of a cast in g, to 0.1 g, with this share (0 to 1) of the free water left."""
        if cast.pk not in self.fresh_g:
            self._share_out(cast.pour)
        fresh_g = self.fresh_g[cast.pk]
        dry_g = fresh_g * plaster.dry_share(cast.pour.consistency)
        return round(dry_g + water_left * (fresh_g - dry_g), 1)

    def _share_out(self, pour: Pour) -> None:
        """Compute the fresh mass of each cast of a pour: its share of the mix, by its size."""
        day = self.clock.local_day(pour.poured_at)
        sizes_g = {
            cast.pk: mixes.mix_of(cast.piece, mixes.mixing_of(self.unit), day).fresh_g
            for cast in pour.casts.select_related("piece__child")
        }
        poured_g = pour.plaster_g + pour.water_g - (pour.left_g or 0)
        scale = poured_g * _POURED_SHARE / sum(sizes_g.values())
        self.fresh_g |= {pk: size_g * scale for pk, size_g in sizes_g.items()}
