"""Actions at the bench: pouring, demoulding, drying rack places, and spoiled casts."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from uuid import UUID, uuid5

from django.utils import timezone

from bookings.consent.permissions import families_without_consent
from bookings.sittings.actions import lose_print
from bookings.sittings.models import ClayPrint
from production import plaster
from production.bench.checks import (
    MOST_G,
    cast_name,
    refuse_inactive,
    refuse_unless_on_rack,
    reload_cast,
)
from production.casts import mixes
from production.casts import pieces as casts_pieces
from production.casts.models import Cast, Mould, Plaster, Pour
from production.casts.stored_forecasts import store_forecast
from production.event_words import Placed, Poured, Spoiled
from production.spoilage.actions import record_spoilage
from production.spoilage.models import SpoilReason
from production.stock import usage
from studio.accounts.models import Unit, User
from studio.jobs.job_action import (
    JobAction,
    itself,
    job_action,
    lock_job,
    nothing,
    record,
    refuse_closed,
    unit_action,
)
from studio.jobs.models import Job, Piece
from studio.stages import ActionRefused, MoveRefused, Stage, missing, move

_ORDER = tuple(Stage)

_LEFT_OFF = UUID("6b1ad0a4-6a54-4d0a-9c2b-0c1f5f0a7a51")


@unit_action("pours")
def pour(  # noqa: PLR0913 - a pour is many facts, all but its unit by keyword
    unit: Unit,
    *,
    pieces: Iterable[Piece],
    plaster_g: int,
    water_g: int,
    consistency: int,
    kind: Plaster | None = None,
    left_g: int | None = None,
    note: str = "",
    by: User,
    at: datetime,
    key: UUID,
) -> Pour:
    """Pour one mix into the prints of these pieces, of one job or several; a job that is all poured moves on.

    `consistency` is g of water to 100 g of plaster; `kind` the plaster, if recorded; `left_g` the slurry left in the
    bucket, if weighed: the next mixes are corrected by it. Raises ActionRefused without a piece or for an impossible
    mass; MoveRefused for a piece without a print in the clay or poured already, or where consent was withdrawn.
    """
    chosen = list(dict.fromkeys(pieces))
    jobs = _lock_jobs_to_pour(unit, chosen)
    _refuse_mix(plaster_g, water_g, consistency, left_g)
    poured = Pour.objects.create(
        unit=unit,
        poured_at=at,
        consistency=consistency,
        plaster_g=plaster_g,
        water_g=water_g,
        plaster=kind,
        left_g=left_g,
        foreseen_ml=_predicted_ml(unit, chosen, at),
        note=note.strip(),
        by=by,
        key=key,
    )
    Cast.objects.bulk_create(Cast(unit=unit, piece=piece, pour=poured) for piece in chosen)
    usage.use_for_pour(poured, _plaster_needed(chosen, consistency, at), by=by, at=at, key=key)
    _record_pour(jobs, chosen, by=by, at=at, key=key)
    return poured


@job_action(itself, holds_unit=True)  # two people never take the same place
def demould(act: JobAction, cast: Cast, *, by: User, at: datetime, key: UUID) -> Cast:
    """Record that a cast is out of the mould and give it the first free place of the drying rack, if any.

    The last cast of a job moves the job on to drying. Raises MoveRefused for a spoiled cast, a piece left off,
    or a cast that is demoulded already.
    """
    job = act.job
    cast = reload_cast(cast)
    refuse_inactive(job, cast)
    if cast.demoulded_at:
        raise MoveRefused(f"{cast_name(cast)} is out of the mould already.")
    cast.demoulded_at = at
    cast.rack_place = cast.dried_at_place = next(iter(free_places(cast.unit)), None)
    cast.save(update_fields=["demoulded_at", "rack_place", "dried_at_place"])
    store_forecast(cast, at)
    act.record(subject=cast.piece)
    _return_clay([cast.piece], by=by, at=at, key=key)
    _move_on(job, by=by, at=at, key=key)
    return cast


@job_action(itself, holds_unit=True)  # two people never take the same place
def place_on_rack(
    act: JobAction, cast: Cast, *, place: int, by: User, at: datetime, key: UUID
) -> Cast:
    """Move a cast to another place of the drying rack (numbered from 1) and forecast its drying there.

    Raises MoveRefused for a cast that is not drying, ActionRefused for a place that is taken or does not exist.
    """
    job = act.job
    cast = reload_cast(cast)
    refuse_unless_on_rack(job, cast)
    if place not in free_places(cast.unit):
        raise ActionRefused(f"Place {place} is not free: choose another one.")
    cast.rack_place = cast.dried_at_place = place
    cast.save(update_fields=["rack_place", "dried_at_place"])
    store_forecast(cast, at)
    act.record(subject=cast.piece, facts=Placed(place))
    return cast


@job_action(itself)
def spoil_piece(
    act: JobAction,
    cast: Cast,
    *,
    how: str,
    why: str,
    print_whole: bool,
    reason: SpoilReason | None = None,
    by: User,
    at: datetime,
    key: UUID,
) -> Cast:
    """Mark a cast as spoiled; its piece is recast if the print in the clay is whole, else the print is retaken.

    `how` is a value of `Cast.Spoil`, `why` what happened, in the person's words, `reason` one of the unit's own list.
    The job moves back to the clay or to a new sitting, unless it is there already. Raises MoveRefused for a cast that
    is spoiled already or in a finished frame, ActionRefused without a kind or a reason.
    """
    cast = reload_cast(cast)
    _refuse_spoiling(act.job, cast, how, why)
    cast.spoiled_at, cast.spoiled_how, cast.spoiled_why = at, how, why.strip()
    cast.rack_place = None
    cast.save(update_fields=["spoiled_at", "spoiled_how", "spoiled_why", "rack_place"])
    record_spoilage(cast, reason=reason, print_whole=print_whole, at=at)
    act.record(subject=cast.piece, facts=Spoiled(how), why=cast.spoiled_why)
    if not print_whole:
        lose_print(cast.piece, why=cast.spoiled_why, by=by, at=at, key=uuid5(key, "lose_print"))
    _move_back(act.job, cast, Stage.CLAY_REST if print_whole else Stage.BOOKED, by, at, key)
    return cast


@job_action(nothing)
def clear_bench(
    act: JobAction, job: Job, *, why: str, by: User | None, at: datetime, key: UUID
) -> None:
    """Free the drying rack places of a job that was called off and return its clay to stock."""
    locked = act.job
    if Cast.objects.filter(piece__job=locked).with_place().update(rack_place=None):
        act.record(why=why)
    else:
        act.nothing_changed()
    _return_clay(job.pieces.all(), by=by, at=at, key=key)


def release_left_off_pieces(job: Job, *, by: User, at: datetime) -> None:
    """Free the rack places and clay of pieces just left off the job, and move the job on if only they held it up.

    Call it inside the transaction that leaves them off.
    """
    key = uuid5(_LEFT_OFF, f"{job.reference} {at.isoformat()}")
    Cast.objects.filter(piece__job=job, piece__left_off_at__isnull=False).update(rack_place=None)
    _return_clay(job.pieces.filter(left_off_at__isnull=False), by=by, at=at, key=key)
    _move_on(lock_job(job), by=by, at=at, key=key)


def free_places(unit: Unit) -> list[int]:
    """Numbers of the free places on the drying rack, lowest first. One query."""
    taken = set(unit.casts.with_place().values_list("rack_place", flat=True))
    return [place for place in range(1, unit.rack_places + 1) if place not in taken]


def _refuse_spoiling(job: Job, cast: Cast, how: str, why: str) -> None:
    refuse_inactive(job, cast)
    if job.stage == Stage.READY:
        raise MoveRefused("This piece is in its finished frame: take that back to framing first.")
    if not why.strip():
        raise ActionRefused("Write what happened to the piece.")
    if how not in Cast.Spoil.values:
        raise ActionRefused("Choose what is wrong with the piece.")


def _move_back(job: Job, spoiled: Cast, to: Stage, by: User, at: datetime, key: UUID) -> None:
    """Move the job back to a stage because of a spoiled cast, unless it is there or before it."""
    seen = Stage(job.stage)
    if _ORDER.index(to) < _ORDER.index(seen):
        move(
            job,
            seen=seen,
            to=to,
            by=by,
            at=at,
            key=uuid5(key, "move"),
            subject=spoiled.piece,
            reason=spoiled.spoiled_how,
            why=spoiled.spoiled_why,
        )


def _move_on(job: Job, *, by: User, at: datetime, key: UUID) -> None:
    """Move a locked job on to each next stage whose gates are open, up to drying.

    A job is at `booked` again while a spoiled print is to be retaken, and its other pieces are poured meanwhile. It
    goes on from there once that piece is left off and the others are poured.
    """
    if job.stage == Stage.BOOKED and not casts_pieces.all_poured(job):
        return
    for start, to in (
        (Stage.BOOKED, Stage.CLAY_REST),
        (Stage.CLAY_REST, Stage.CASTING),
        (Stage.CASTING, Stage.DRYING),
    ):
        if job.stage == start and not missing(job, to):
            move(job, seen=start, to=to, by=by, at=at, key=uuid5(key, f"move to {to}"))


def _plaster_needed(pieces: list[Piece], consistency: int, at: datetime) -> list[tuple[Job, float]]:
    """Predict the plaster of each piece in grams, beside its job, for a mix of this consistency."""
    day, mixing = timezone.localdate(at), mixes.mixing_of(pieces[0].job.unit).at(consistency)
    return [
        (piece.job, mixes.mix_of(piece, mixing, day).plaster_g)
        for piece in Piece.objects.filter(pk__in=[piece.pk for piece in pieces])
        .select_related("job", "child")
        .prefetch_related("prints__sitting")
        .order_by("pk")
    ]


def _return_clay(pieces: Iterable[Piece], *, by: User | None, at: datetime, key: UUID) -> None:
    """Return the clay of these pieces’ prints to stock, once."""
    prints = list(
        ClayPrint.objects.filter(piece__in=pieces, stock_moves__isnull=False)
        .select_related("piece__job__unit")
        .distinct()
    )
    if prints:
        usage.return_from_prints(prints[0].piece.job.unit, prints, by=by, at=at, key=key)


def _record_pour(
    jobs: list[Job], pieces: list[Piece], *, by: User, at: datetime, key: UUID
) -> None:
    """Record the pour in the history of each job and move it on where it is all poured."""
    for job in jobs:
        poured = Poured([piece.pk for piece in pieces if piece.job_id == job.pk])
        job_key = uuid5(key, job.reference)
        record(job, what="pour", facts=poured, by=by, at=at, key=job_key)
        _move_on(job, by=by, at=at, key=job_key)


def _lock_jobs_to_pour(unit: Unit, pieces: list[Piece]) -> list[Job]:
    """Lock the jobs of these pieces, always in the same order against deadlocks, and check that they may be poured."""
    wanted = {piece.job_id for piece in pieces}
    jobs = list(Job.objects.select_for_update().filter(unit=unit, pk__in=wanted).order_by("pk"))
    for job in jobs:
        refuse_closed(job)
    _refuse_stopped(jobs)
    _refuse_unready(unit, pieces)
    return jobs


def _refuse_stopped(jobs: list[Job]) -> None:
    if families := families_without_consent(jobs):
        names = (
            f"The {family.name} family has taken back its yes to the casts" for family in families
        )
        raise MoveRefused(*(f"{name}: do not pour, speak with them." for name in names))


def _refuse_mix(plaster_g: int, water_g: int, consistency: int, left_g: int | None) -> None:
    if not (0 < plaster_g <= MOST_G and 0 < water_g <= MOST_G):
        raise ActionRefused("Plaster and water must each weigh above 0 g and at most 50 kg.")
    if not plaster.MIN_CONSISTENCY <= consistency <= plaster.MAX_CONSISTENCY:
        raise ActionRefused(
            f"{consistency} parts of water to 100 of plaster cannot be meant: it lies between 20 and 120."
        )
    mixed_g = plaster_g + water_g
    if left_g is not None and not 0 <= left_g < mixed_g:
        raise ActionRefused(
            f"Left over is at least 0 g and less than the {mixed_g} g that were mixed."
        )


def _predicted_ml(unit: Unit, pieces: list[Piece], at: datetime) -> float | None:
    """Predict the volume of these moulds in ml without the unit's own correction, which learns from the difference.

    None if any of them was measured.
    """
    if Mould.objects.filter(piece__in=pieces).exists():
        return None
    untaught = replace(mixes.mixing_of(unit), fill=plaster.NO_CORRECTION)
    day = timezone.localdate(at)
    return sum(mixes.volume_ml(piece, untaught, day) for piece in pieces)


def _refuse_unready(unit: Unit, pieces: list[Piece]) -> None:
    if not pieces:
        raise ActionRefused("Tick at least one piece to pour.")
    ready = set(casts_pieces.pieces_to_pour(unit).values_list("pk", flat=True))
    waiting = [str(piece) for piece in pieces if piece.pk not in ready]
    if waiting:
        raise MoveRefused(
            f"Poured already, or without a print in the clay: {'; '.join(waiting)}. Reload the bench to see what waits."
        )
