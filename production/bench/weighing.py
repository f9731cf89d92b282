"""Actions of the drying rack: weighing, striking out a wrong weighing, releasing a cast as dry."""

from datetime import datetime
from uuid import UUID

from production import event_words
from production.bench.checks import MOST_G, cast_name, refuse_unless_on_rack, reload_cast
from production.casts import mixes, pieces
from production.casts.models import Cast, Weighing
from production.casts.stored_forecasts import store_forecast
from production.drying.by_weight import SCALE_G, Weighed, is_heavier
from production.event_words import Struck
from studio.accounts.models import User
from studio.jobs.job_action import JobAction, itself, job_action
from studio.stages import ActionRefused, MoveRefused
from studio.units import kg

# A cast gives off three tenths of its fresh weight: half of it gone is a slip of the scale.
LIGHTEST_SHARE = 0.5


@job_action(lambda cast, earlier: cast.weighings.get(key=earlier.key))
def weigh(
    act: JobAction,
    cast: Cast,
    *,
    mass_g: float,
    heavier_why: str = "",
    by: User,
    at: datetime,
    key: UUID,
) -> Weighing:
    """Record a weight in grams and judge again whether the cast is dry.

    Raises MoveRefused for a cast that is not drying, ActionRefused for an impossible weight or for an unexpected
    one without a reason in `heavier_why`.
    """
    job = act.job
    cast = reload_cast(cast)
    refuse_unless_on_rack(job, cast)
    _refuse_weight(cast, mass_g, heavier_why)
    weighing = cast.weighings.create(
        mass_g=mass_g, heavier_why=heavier_why.strip(), at=at, by=by, key=key
    )
    _judge(cast, at)
    act.record(
        subject=cast.piece, facts=event_words.Weighed(weighing.mass_g), why=weighing.heavier_why
    )
    return weighing


@job_action(itself)
def strike_weighing(
    act: JobAction, weighing: Weighing, *, why: str, by: User, at: datetime, key: UUID
) -> Weighing:
    """Strike out a wrong weighing; it stays visible but is ignored, and the cast is judged again.

    Raises MoveRefused for a cast that is not drying or a weighing that is struck out already,
    ActionRefused without a reason.
    """
    job = act.job
    cast = reload_cast(weighing.cast)
    weighing = cast.weighings.get(pk=weighing.pk)
    refuse_unless_on_rack(job, cast)
    if weighing.struck_at:
        raise MoveRefused("This weighing is struck out already.")
    if not why.strip():
        raise ActionRefused("Write what was wrong with this weighing.")
    weighing.struck_at, weighing.struck_why = at, why.strip()
    weighing.save(update_fields=["struck_at", "struck_why"])
    _judge(cast, at)
    act.record(subject=cast.piece, facts=Struck(weighing.mass_g), why=weighing.struck_why)
    return weighing


@job_action(itself)
def release_dry(act: JobAction, cast: Cast, *, why: str, by: User, at: datetime, key: UUID) -> Cast:
    """Mark a cast as dry before its weight says so; the view lets only the owner do it.

    Raises MoveRefused for a cast that is not drying or is dry already, ActionRefused without a reason.
    """
    job = act.job
    cast = reload_cast(cast)
    refuse_unless_on_rack(job, cast)
    if cast.dry_at:
        raise MoveRefused(f"{cast_name(cast)} is dry already.")
    if not why.strip():
        raise ActionRefused("Write why this piece may go on without being dry by weight.")
    cast.dry_at, cast.dry_why = at, why.strip()
    cast.save(update_fields=["dry_at", "dry_why"])
    act.record(subject=cast.piece, why=cast.dry_why)
    return cast


def _refuse_weight(cast: Cast, mass_g: float, heavier_why: str) -> None:
    if not 0 < mass_g < MOST_G:
        raise ActionRefused("A weight must be above 0 g and below 50 kg.")
    if heavier_why.strip():
        return
    mix_g = cast.pour.plaster_g + cast.pour.water_g
    if mass_g > mix_g + SCALE_G:
        raise ActionRefused(
            f"{kg(mass_g)} is more than the {kg(mix_g)} that were poured. If the scale is right, write why."
        )
    last = cast.weighings.standing().oldest_first().last()
    if last is None:
        return
    before = f"{last.mass_g:g} g on {pieces.day_words(last.at)}"
    if is_heavier(Weighed(last.at, last.mass_g), mass_g):
        raise ActionRefused(
            f"{mass_g:g} g is heavier than {before}. Check piece and scale; if it is right, write why."
        )
    if mass_g < last.mass_g * LIGHTEST_SHARE:
        raise ActionRefused(
            f"{mass_g:g} g is less than half of {before}: is it this piece? If the scale is right, write why."
        )


def _judge(cast: Cast, at: datetime) -> None:
    """Store the forecast of the cast and whether it is dry by its weighings, unless the owner has released it."""
    store_forecast(cast, at)
    if cast.dry_why:
        return
    scale_g = mixes.mixing_of(cast.unit).scale_g
    dry = pieces.judge_cast(cast, pieces.valid_weighings(cast), scale_g).dry
    if dry != bool(cast.dry_at):
        cast.dry_at = at if dry else None
        cast.save(update_fields=["dry_at"])
