"""From the clay to the rack: pouring, demoulding, spoiled pieces, places."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from uuid import UUID, uuid5

from bookings.consent.permissions import families_without_consent
from bookings.sittings.actions import lose_impression
from bookings.sittings.models import Impression
from production import plaster
from production.bench import scale
from production.casts import mixes
from production.casts import pieces as casts_pieces
from production.casts.models import Cast, Mould, Plaster, Pour
from production.casts.stored_forecasts import foresee
from production.event_words import Placed, Poured, Spoiled
from production.spoilage.actions import account
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
    """Pour one mix into the impressions of these pieces, of one job or several.

    `left_g` is the slurry that stayed in the bucket, where it was weighed: from it the unit learns.

    A job whose pieces are all poured moves on to casting.
    Raises ActionRefused without a piece or with a mass that cannot be meant, MoveRefused for a
    piece that has no print in the clay or is poured already, or whose family took its yes back.
    """
    chosen = list(dict.fromkeys(pieces))
    jobs = _locked_jobs(unit, chosen)
    for job in jobs:
        refuse_closed(job)
    _refuse_stopped(jobs)
    _refuse_mix(plaster_g, water_g, consistency)
    _refuse_left(left_g, plaster_g + water_g)
    _refuse_unready(unit, chosen)
    poured = Pour.objects.create(
        unit=unit,
        poured_at=at,
        consistency=consistency,
        plaster_g=plaster_g,
        water_g=water_g,
        plaster=kind,
        left_g=left_g,
        foreseen_ml=_foreseen_ml(unit, chosen, at),
        note=note.strip(),
        by=by,
        key=key,
    )
    Cast.objects.bulk_create(Cast(unit=unit, piece=piece, pour=poured) for piece in chosen)
    usage.pour_takes(poured, _plaster_of(chosen, consistency, at), by=by, at=at, key=key)
    for job in jobs:
        of_job = Poured([piece.pk for piece in chosen if piece.job_id == job.pk])
        its_key = uuid5(key, job.reference)
        record(job, what="pour", facts=of_job, by=by, at=at, key=its_key)
        _settle(job, by=by, at=at, key=its_key)
    return poured


@job_action(itself, holds_unit=True)  # two people never take the same place
def demould(act: JobAction, cast: Cast, *, by: User, at: datetime, key: UUID) -> Cast:
    """Take a cast out of the clay, onto the first free place of the rack if there is one.

    The last of a job moves it on to drying. Raises MoveRefused for a spoiled cast or one that is
    out already.
    """
    job = act.job
    cast = again(cast)
    refuse_gone(job, cast)
    if cast.demoulded_at:
        raise MoveRefused(f"{name_of(cast)} is out of the mould already.")
    cast.demoulded_at = at
    cast.rack_place = cast.dried_at_place = next(iter(scale.free_places(cast.unit)), None)
    cast.save(update_fields=["demoulded_at", "rack_place", "dried_at_place"])
    foresee(cast, at)
    act.record(subject=cast.piece)
    _clay_back([cast.piece], by=by, at=at, key=key)
    _settle(job, by=by, at=at, key=key)
    return cast


@job_action(itself, holds_unit=True)  # two people never take the same place
def place_on_rack(
    act: JobAction, cast: Cast, *, place: int, by: User, at: datetime, key: UUID
) -> Cast:
    """Note at which place of the rack a cast really lies, numbered from 1.

    Raises MoveRefused for a cast that is not drying, ActionRefused for a place that is taken.
    """
    job = act.job
    cast = again(cast)
    refuse_not_on_the_bench(job, cast)
    if place not in scale.free_places(cast.unit):
        raise ActionRefused(f"Place {place} is not free: choose another one.")
    cast.rack_place = cast.dried_at_place = place
    cast.save(update_fields=["rack_place", "dried_at_place"])
    foresee(cast, at)
    act.record(subject=cast.piece, facts=Placed(place))
    return cast


@job_action(itself)
def spoil_piece(
    act: JobAction,
    cast: Cast,
    *,
    how: str,
    why: str,
    impression_whole: bool,
    reason: SpoilReason | None = None,
    by: User,
    at: datetime,
    key: UUID,
) -> Cast:
    """Give a cast up. Its piece is poured again if its print is whole, else impressed again.

    The job goes back to the clay or to a new sitting, unless it is there already.
    Raises MoveRefused for a cast that is spoiled or in a finished frame, ActionRefused without a
    reason.
    """
    job = act.job
    cast = again(cast)
    refuse_gone(job, cast)
    if job.stage == Stage.READY:
        raise MoveRefused("This piece is in its finished frame: take that back to framing first.")
    if not why.strip():
        raise ActionRefused("Write what happened to the piece.")
    if how not in Cast.Spoil.values:
        raise ActionRefused("Choose what is wrong with the piece.")
    cast.spoiled_at, cast.spoiled_how, cast.spoiled_why = at, how, why.strip()
    cast.rack_place = None
    cast.save(update_fields=["spoiled_at", "spoiled_how", "spoiled_why", "rack_place"])
    account(cast, reason=reason, impression_whole=impression_whole, at=at)
    act.record(subject=cast.piece, facts=Spoiled(how), why=cast.spoiled_why)
    if not impression_whole:
        lose_impression(
            cast.piece, why=cast.spoiled_why, by=by, at=at, key=uuid5(key, "lose_impression")
        )
    back_to = Stage.CLAY_REST if impression_whole else Stage.BOOKED
    if _ORDER.index(back_to) < _ORDER.index(Stage(job.stage)):
        move(
            job,
            seen=Stage(job.stage),
            to=back_to,
            by=by,
            at=at,
            key=uuid5(key, "move"),
            subject=cast.piece,
            reason=how,
            why=cast.spoiled_why,
        )
    return cast


@job_action(nothing)
def clear_bench(
    act: JobAction, job: Job, *, why: str, by: User | None, at: datetime, key: UUID
) -> None:
    """Free the rack places of a job that was called off; its clay goes back into the bin."""
    locked = act.job
    if Cast.objects.filter(piece__job=locked).on_the_rack().update(rack_place=None):
        act.record(why=why)
    else:
        act.nothing_changed()
    _clay_back(job.pieces.all(), by=by, at=at, key=key)


def settle_after_leaving_off(job: Job, *, by: User, at: datetime) -> None:
    """A piece left off gives its rack place back, and no longer holds up the others.

    Runs inside the transaction that left it off, so once.
    """
    key = uuid5(_LEFT_OFF, f"{job.reference} {at.isoformat()}")
    Cast.objects.filter(piece__job=job, piece__left_off_at__isnull=False).update(rack_place=None)
    _clay_back(job.pieces.filter(left_off_at__isnull=False), by=by, at=at, key=key)
    _settle(lock_job(job), by=by, at=at, key=key)


def _settle(job: Job, *, by: User, at: datetime, key: UUID) -> None:
    """Move a locked job on as far as the bench has come: these moves follow from the work itself."""
    if job.stage == Stage.BOOKED and not casts_pieces.all_poured(job):
        return
    for start, to in (
        (Stage.BOOKED, Stage.CLAY_REST),
        (Stage.CLAY_REST, Stage.CASTING),
        (Stage.CASTING, Stage.DRYING),
    ):
        if job.stage == start and not missing(job, to):
            move(job, seen=start, to=to, by=by, at=at, key=uuid5(key, f"move to {to}"))


def _plaster_of(pieces: list[Piece], consistency: int, at: datetime) -> list[tuple[Job, float]]:
    """What each piece is likely to take of a mix, beside its job."""
    day, mixing = casts_pieces.local_day(at), mixes.mixing_of(pieces[0].job.unit).at(consistency)
    return [
        (piece.job, mixes.mix_of(piece, mixing, day).plaster_g)
        for piece in Piece.objects.filter(pk__in=[piece.pk for piece in pieces])
        .select_related("job", "child")
        .prefetch_related("impressions__sitting")
        .order_by("pk")
    ]


def _clay_back(pieces: Iterable[Piece], *, by: User | None, at: datetime, key: UUID) -> None:
    """The clay of these pieces' prints goes back into its bin, once."""
    prints = list(
        Impression.objects.filter(piece__in=pieces, stock_moves__isnull=False)
        .select_related("piece__job__unit")
        .distinct()
    )
    if prints:
        usage.prints_give_back(prints[0].piece.job.unit, prints, by=by, at=at, key=key)


def _locked_jobs(unit: Unit, pieces: list[Piece]) -> list[Job]:
    """The jobs of these pieces, locked in one order, so that two pours never wait for each other."""
    held = Job.objects.select_for_update().filter(
        unit=unit, pk__in={piece.job_id for piece in pieces}
    )
    return list(held.order_by("pk"))


def _refuse_stopped(jobs: list[Job]) -> None:
    if families := families_without_consent(jobs):
        names = (
            f"The {family.name} family has taken back its yes to the casts" for family in families
        )
        raise MoveRefused(*(f"{name}: do not pour, speak with them." for name in names))


def _refuse_mix(plaster_g: int, water_g: int, consistency: int) -> None:
    if not (0 < plaster_g <= MOST_G and 0 < water_g <= MOST_G):
        raise ActionRefused("Plaster and water must each weigh above 0 g and at most 50 kg.")
    if not plaster.MIN_CONSISTENCY <= consistency <= plaster.MAX_CONSISTENCY:
        raise ActionRefused(
            f"{consistency} parts of water to 100 of plaster cannot be meant: it lies between 20 and 120."
        )


def _refuse_left(left_g: int | None, mixed_g: int) -> None:
    if left_g is not None and not 0 <= left_g < mixed_g:
        raise ActionRefused(
            f"Left over is at least 0 g and less than the {mixed_g} g that were mixed."
        )


def _foreseen_ml(unit: Unit, pieces: list[Piece], at: datetime) -> float | None:
    """What predicted moulds were thought to take before the unit's own correction, which learns from it."""
    if Mould.objects.filter(piece__in=pieces).exists():
        return None
    untaught = replace(mixes.mixing_of(unit), fill=plaster.NO_CORRECTION)
    day = casts_pieces.local_day(at)
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


MOST_G = 50_000


def again(cast: Cast) -> Cast:
    """The cast as it stands now, under its job's lock."""
    return Cast.objects.select_related("piece__child", "piece__mould", "pour__plaster", "unit").get(
        pk=cast.pk
    )


def name_of(cast: Cast) -> str:
    return f"{cast.piece} ({cast.piece.job.spoken_reference})"


def refuse_gone(job: Job, cast: Cast) -> None:
    refuse_closed(job)
    if cast.spoiled_at:
        raise MoveRefused(f"{name_of(cast)}: this cast was noted as spoiled.")
    if cast.piece.left_off_at:
        raise MoveRefused(f"{name_of(cast)} was left off the job.")


def refuse_not_on_the_bench(job: Job, cast: Cast) -> None:
    refuse_gone(job, cast)
    if not cast.demoulded_at:
        raise MoveRefused(f"{name_of(cast)} is still in the mould.")
    if job.stage in (Stage.FRAMING, Stage.READY):
        raise MoveRefused(f"{name_of(cast)} is in its frame: the job is at “{job.stage_words}”.")
