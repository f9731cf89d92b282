"""An evening at the bench: everything that waits is poured in one mix; and what a cast weighs."""

from datetime import date, datetime
from uuid import UUID, uuid5

from demo_data.clock import Clock
from production import actions, plaster, queries
from production.models import Cast, Pour
from studio.models import Job, Piece, Unit, User

# The rest sticks to the bucket and the clay.
_POURED_SHARE = 0.98
_STEP_G = 10


class Bench:
    """Pours once an evening, however many jobs ask for it; a job's prints rest until it is released."""

    def __init__(self, unit: Unit, owner: User, clock: Clock, namespace: UUID) -> None:
        self.unit, self.owner, self.clock, self.namespace = unit, owner, clock, namespace
        self.resting: set[int] = set()

    def rest(self, job: Job) -> None:
        self.resting.add(job.pk)

    def release(self, job: Job) -> None:
        self.resting.discard(job.pk)

    def pour(self, at: datetime) -> Pour:
        key = uuid5(self.namespace, f"pour {at.isoformat()}")
        if earlier := self.unit.pours.filter(key=key).first():
            return earlier
        pieces = list(queries.pieces_to_pour(self.unit).exclude(job__in=self.resting))
        mix = queries.predicted_mix(pieces, self.unit.consistency, self.clock.local_day(at))
        plaster_g = round(mix.plaster_g / _STEP_G) * _STEP_G
        return actions.pour(
            self.unit,
            pieces=pieces,
            plaster_g=plaster_g,
            water_g=round(plaster_g * self.unit.consistency / 100),
            consistency=self.unit.consistency,
            by=self.owner,
            at=at,
            key=key,
        )

    def mass_g(self, cast: Cast, water_left: float) -> float:
        """What the scale shows, to a tenth of a gram, with this share (0 to 1) of the free water left."""
        day = self.clock.local_day(cast.pour.poured_at)
        poured = cast.pour.casts.select_related("piece__child").order_by("pk")
        together = sum(_mix_g(other.piece, cast.pour, day) for other in poured)
        share = _mix_g(cast.piece, cast.pour, day) / together
        fresh_g = (cast.pour.plaster_g + cast.pour.water_g) * share * _POURED_SHARE
        dry_g = fresh_g * plaster.dry_share(cast.pour.consistency)
        return round(dry_g + water_left * (fresh_g - dry_g), 1)


def _mix_g(piece: Piece, pour: Pour, day: date) -> float:
    return queries.mix_of(piece, pour.consistency, day).fresh_g
