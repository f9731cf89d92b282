"""What people do at the bench: one function and one transaction each."""

from collections.abc import Iterable
from datetime import datetime
from uuid import UUID, uuid5

from django.db import transaction

from production import drying, plaster, queries
from production.models import Cast, Frame, Pour, Weighing
from studio.actions import ActionRefused, lock_job, record, refuse_closed
from studio.models import Job, JobEvent, Piece, Unit, User
from studio.stages import MoveRefused, Stage, missing, move
from studio.units import kg

FRAME_STEPS = ("mounted", "closed", "backed", "sealed", "checked")
MOST_G = 50_000
# A cast gives off three tenths of its fresh weight: half of it gone is a slip of the scale.
LIGHTEST_SHARE = 0.5

_ORDER = tuple(Stage)


@transaction.atomic
def pour(
    unit: Unit,
    *,
    pieces: Iterable[Piece],
    plaster_g: int,
    water_g: int,
    consistency: int,
    note: str = "",
    by: User,
    at: datetime,
    key: UUID,
) -> Pour:
    """Pour one mix into the impressions of these pieces, of one job or several.

    A job whose pieces are all poured moves on to casting.
    Raises ActionRefused without a piece, with a mass that cannot be meant, or for a piece that
    has no print in the clay or is poured already.
    """
    chosen = list(dict.fromkeys(pieces))
    jobs = _locked_jobs(unit, chosen)
    if earlier := unit.pours.filter(key=key).first():
        return earlier
    for job in jobs:
        refuse_closed(job)
    _refuse_mix(plaster_g, water_g, consistency)
    _refuse_unready(unit, chosen)
    poured = Pour.objects.create(
        unit=unit,
        poured_at=at,
        consistency=consistency,
        plaster_g=plaster_g,
        water_g=water_g,
        note=note.strip(),
        by=by,
        key=key,
    )
    Cast.objects.bulk_create(Cast(unit=unit, piece=piece, pour=poured) for piece in chosen)
    for job in jobs:
        of_job = "; ".join(str(piece) for piece in chosen if piece.job_id == job.pk)
        its_key = uuid5(key, job.reference)
        record(job, what="pour", by=by, at=at, key=its_key, why=of_job)
        _settle(job, by=by, at=at, key=its_key)
    return poured


@transaction.atomic
def demould(cast: Cast, *, by: User, at: datetime, key: UUID) -> Cast:
    """Take a cast out of the clay, onto the first free place of the rack if there is one.

    The last of a job moves it on to drying. Raises MoveRefused for a spoiled cast or one that is
    out already.
    """
    job = lock_job(cast.piece.job)
    cast = _again(cast)
    if job.events.filter(key=key).exists():
        return cast
    _refuse_gone(job, cast)
    if cast.demoulded_at:
        raise MoveRefused(f"{_name(cast)} is out of the mould already.")
    cast.demoulded_at = at
    cast.rack_place = next(iter(_free_places(cast.unit)), None)
    cast.save(update_fields=["demoulded_at", "rack_place"])
    record(job, what="demould", by=by, at=at, key=key, why=str(cast.piece))
    _settle(job, by=by, at=at, key=key)
    return cast


@transaction.atomic
def place_on_rack(cast: Cast, *, place: int, by: User, at: datetime, key: UUID) -> Cast:
    """Note at which place of the rack a cast really lies, numbered from 1.

    Raises MoveRefused for a cast that is not drying, ActionRefused for a place that is taken.
    """
    job = lock_job(cast.piece.job)
    cast = _again(cast)
    if job.events.filter(key=key).exists():
        return cast
    _refuse_not_on_the_bench(job, cast)
    if place not in _free_places(cast.unit):
        raise ActionRefused(f"Place {place} is not free: choose another one.")
    cast.rack_place = place
    cast.save(update_fields=["rack_place"])
    record(job, what="place_on_rack", by=by, at=at, key=key, why=f"{cast.piece}: place {place}")
    return cast


@transaction.atomic
def weigh(
    cast: Cast, *, mass_g: float, heavier_why: str = "", by: User, at: datetime, key: UUID
) -> Weighing:
    """Note what the scale says, and judge anew whether the cast is dry.

    Raises MoveRefused for a cast that is not drying, ActionRefused for a weight that cannot be
    meant, or for a rising one without a reason.
    """
    job = lock_job(cast.piece.job)
    cast = _again(cast)
    if earlier := cast.weighings.filter(key=key).first():
        return earlier
    _refuse_not_on_the_bench(job, cast)
    _refuse_weight(cast, mass_g, heavier_why)
    weighing = cast.weighings.create(
        mass_g=mass_g, heavier_why=heavier_why.strip(), at=at, by=by, key=key
    )
    _judge(cast, at)
    why = f"{cast.piece}: {weighing.mass_g:g} g" + (f", {heavier_why}" if heavier_why else "")
    record(job, what="weigh", by=by, at=at, key=key, why=why)
    return weighing


@transaction.atomic
def release_dry(cast: Cast, *, why: str, by: User, at: datetime, key: UUID) -> Cast:
    """Let a cast go on without the scale's word, for the written reason.

    Raises MoveRefused for a cast that is not drying or is dry already, ActionRefused without a
    reason.
    """
    job = lock_job(cast.piece.job)
    cast = _again(cast)
    if job.events.filter(key=key).exists():
        return cast
    _refuse_not_on_the_bench(job, cast)
    if cast.dry_at:
        raise MoveRefused(f"{_name(cast)} is dry already.")
    if not why.strip():
        raise ActionRefused("Write why this piece may go on without being dry by weight.")
    cast.dry_at, cast.dry_why = at, why.strip()
    cast.save(update_fields=["dry_at", "dry_why"])
    record(job, what="release_dry", by=by, at=at, key=key, why=f"{cast.piece}: {cast.dry_why}")
    return cast


@transaction.atomic
def spoil_piece(
    cast: Cast,
    *,
    how: str,
    why: str,
    impression_whole: bool,
    by: User,
    at: datetime,
    key: UUID,
) -> Cast:
    """Give a cast up. Its piece is poured again if its print is whole, else impressed again.

    The job goes back to the clay or to a new sitting, unless it is there already.
    Raises MoveRefused for a cast that is spoiled or in a finished frame, ActionRefused without a
    reason.
    """
    from bookings.actions import lose_impression  # noqa: PLC0415 - bookings' actions come last

    job = lock_job(cast.piece.job)
    cast = _again(cast)
    if job.events.filter(key=key).exists():
        return cast
    _refuse_gone(job, cast)
    if job.stage == Stage.READY:
        raise MoveRefused("This piece is in its finished frame: take that back to framing first.")
    if not why.strip():
        raise ActionRefused("Write what happened to the piece.")
    if how not in Cast.Spoil.values:
        raise ActionRefused("Choose what is wrong with the piece.")
    cast.spoiled_at, cast.spoiled_how, cast.spoiled_why = at, how, why.strip()
    cast.rack_place = None
    cast.save(update_fields=["spoiled_at", "spoiled_how", "spoiled_why", "rack_place"])
    words = f"{cast.piece}: {cast.get_spoiled_how_display()}. {cast.spoiled_why}"
    record(job, what="spoil_piece", by=by, at=at, key=key, why=words)
    if not impression_whole:
        lose_impression(cast.piece, why=words, by=by, at=at, key=uuid5(key, "lose_impression"))
    back_to = Stage.CLAY_REST if impression_whole else Stage.BOOKED
    if _ORDER.index(back_to) < _ORDER.index(Stage(job.stage)):
        move(
            job,
            seen=Stage(job.stage),
            to=back_to,
            by=by,
            at=at,
            key=uuid5(key, "move"),
            why=words,
        )
    return cast


@transaction.atomic
def start_framing(
    job: Job, *, seen: Stage, glazed: bool = True, by: User, at: datetime, key: UUID
) -> Frame:
    """Take a job's dry casts off the rack and begin its frame, with nothing ticked yet.

    Raises MovedMeanwhile, or MoveRefused while a piece is damp.
    """
    locked = lock_job(job)
    if locked.events.filter(key=key).exists():
        return locked.frame
    move(job, seen=seen, to=Stage.FRAMING, by=by, at=at, key=key)
    Cast.objects.filter(piece__job=job).update(rack_place=None)
    nothing_yet = {f"{step}_at": None for step in FRAME_STEPS}
    frame, _ = Frame.objects.update_or_create(
        job=job, defaults={"glazed": glazed, "started_at": at, **nothing_yet}
    )
    return frame


@transaction.atomic
def tick_frame(
    job: Job, *, step: str, done: bool = True, by: User, at: datetime, key: UUID
) -> Frame:
    """Note a step of the framing as done at `at`, or take the note back.

    Raises MoveRefused unless the job is being framed, ActionRefused for an unknown step.
    """
    locked = lock_job(job)
    _refuse_unless_framing(locked)
    frame = locked.frame
    if locked.events.filter(key=key).exists():
        return frame
    if step not in FRAME_STEPS:
        raise ActionRefused("There is no such step in the framing.")
    if bool(getattr(frame, f"{step}_at")) != done:
        setattr(frame, f"{step}_at", at if done else None)
        frame.save(update_fields=[f"{step}_at"])
        words = step if done else f"not {step} after all"
        record(locked, what="tick_frame", by=by, at=at, key=key, why=words)
    return frame


def make_ready(job: Job, *, seen: Stage, by: User, at: datetime, key: UUID) -> JobEvent:
    """Say that a frame is finished, checked and photographed.

    Raises MovedMeanwhile, or MoveRefused with what is still missing.
    """
    return move(job, seen=seen, to=Stage.READY, by=by, at=at, key=key)


@transaction.atomic
def reopen_frame(job: Job, *, seen: Stage, why: str, by: User, at: datetime, key: UUID) -> JobEvent:
    """Take a finished frame back to the bench; it is to be checked again.

    Raises MovedMeanwhile, MoveRefused, or ActionRefused without a reason.
    """
    locked = lock_job(job)
    if earlier := locked.events.filter(key=key).first():
        return earlier
    if not why.strip():
        raise ActionRefused("Write what is wrong with the frame.")
    event = move(job, seen=seen, to=Stage.FRAMING, by=by, at=at, key=key, why=why.strip())
    Frame.objects.filter(job=job).update(checked_at=None)
    return event


@transaction.atomic
def clear_bench(job: Job, *, why: str, by: User | None, at: datetime, key: UUID) -> None:
    """Free the rack places of a job that was called off."""
    locked = lock_job(job)
    if locked.events.filter(key=key).exists():
        return
    if Cast.objects.filter(piece__job=locked).on_the_rack().update(rack_place=None):
        record(locked, what="clear_bench", by=by, at=at, key=key, why=why)


def settle_after_leaving_off(job: Job, *, by: User, at: datetime) -> None:
    """A piece left off gives its rack place back, and no longer holds up the others.

    Runs inside the transaction that left it off, so once.
    """
    Cast.objects.filter(piece__job=job, piece__left_off_at__isnull=False).update(rack_place=None)
    _settle(lock_job(job), by=by, at=at, key=uuid5(_LEFT_OFF, f"{job.reference} {at.isoformat()}"))


_LEFT_OFF = UUID("6b1ad0a4-6a54-4d0a-9c2b-0c1f5f0a7a51")


def _settle(job: Job, *, by: User, at: datetime, key: UUID) -> None:
    """Move a locked job on as far as the bench has come: these moves follow from the work itself."""
    if job.stage == Stage.BOOKED and not queries.all_poured(job):
        return
    for start, to in (
        (Stage.BOOKED, Stage.CLAY_REST),
        (Stage.CLAY_REST, Stage.CASTING),
        (Stage.CASTING, Stage.DRYING),
    ):
        if job.stage == start and not missing(job, to):
            move(job, seen=start, to=to, by=by, at=at, key=uuid5(key, f"move to {to}"))


def _locked_jobs(unit: Unit, pieces: list[Piece]) -> list[Job]:
    """The jobs of these pieces, locked in one order, so that two pours never wait for each other."""
    held = Job.objects.select_for_update().filter(
        unit=unit, pk__in={piece.job_id for piece in pieces}
    )
    return list(held.order_by("pk"))


def _refuse_mix(plaster_g: int, water_g: int, consistency: int) -> None:
    if not (0 < plaster_g <= MOST_G and 0 < water_g <= MOST_G):
        raise ActionRefused("Plaster and water must each weigh above 0 g and at most 50 kg.")
    if not plaster.LEAST_CONSISTENCY <= consistency <= plaster.MOST_CONSISTENCY:
        raise ActionRefused(
            f"{consistency} parts of water to 100 of plaster cannot be meant: it lies between 20 and 120."
        )


def _refuse_unready(unit: Unit, pieces: list[Piece]) -> None:
    if not pieces:
        raise ActionRefused("Tick at least one piece to pour.")
    ready = set(queries.pieces_to_pour(unit).values_list("pk", flat=True))
    waiting = [str(piece) for piece in pieces if piece.pk not in ready]
    if waiting:
        raise ActionRefused(
            f"Poured already, or without a print in the clay: {'; '.join(waiting)}. Reload the bench to see what waits."
        )


def _again(cast: Cast) -> Cast:
    """The cast as it stands now, under its job's lock."""
    return Cast.objects.select_related("piece__child", "pour", "unit").get(pk=cast.pk)


def _name(cast: Cast) -> str:
    return f"{cast.piece} ({cast.piece.job.spoken_reference})"


def _refuse_gone(job: Job, cast: Cast) -> None:
    refuse_closed(job)
    if cast.spoiled_at:
        raise MoveRefused(f"{_name(cast)}: this cast was noted as spoiled.")
    if cast.piece.left_off_at:
        raise MoveRefused(f"{_name(cast)} was left off the job.")


def _refuse_not_on_the_bench(job: Job, cast: Cast) -> None:
    _refuse_gone(job, cast)
    if not cast.demoulded_at:
        raise MoveRefused(f"{_name(cast)} is still in the mould.")
    if job.stage in (Stage.FRAMING, Stage.READY):
        raise MoveRefused(f"{_name(cast)} is in its frame: the job is at “{job.stage_words}”.")


def _free_places(unit: Unit) -> list[int]:
    """Free places, lowest first. The unit is locked, so that two people never take the same one."""
    unit = Unit.objects.select_for_update(no_key=True).get(pk=unit.pk)
    taken = set(unit.casts.on_the_rack().values_list("rack_place", flat=True))
    return [place for place in range(1, unit.rack_places + 1) if place not in taken]


def _refuse_weight(cast: Cast, mass_g: float, heavier_why: str) -> None:
    if not 0 < mass_g < MOST_G:
        raise ActionRefused("A weight must be above 0 g and below 50 kg.")
    if heavier_why.strip():
        return
    mix_g = cast.pour.plaster_g + cast.pour.water_g
    if mass_g > mix_g + drying.SCALE_G:
        raise ActionRefused(
            f"{kg(mass_g)} is more than the {kg(mix_g)} that were poured. If the scale is right, write why."
        )
    last = cast.weighings.oldest_first().last()
    if last is None:
        return
    before = f"{last.mass_g:g} g on {queries.said_day(last.at)}"
    if drying.rising(drying.Weighed(last.at, last.mass_g), mass_g):
        raise ActionRefused(
            f"{mass_g:g} g is heavier than {before}. Check piece and scale; if it is right, write why."
        )
    if mass_g < last.mass_g * LIGHTEST_SHARE:
        raise ActionRefused(
            f"{mass_g:g} g is less than half of {before}: is it this piece? If the scale is right, write why."
        )


def _judge(cast: Cast, at: datetime) -> None:
    """Dry or not by all its weighings; a cast that got wet again is no longer dry."""
    if cast.dry_why:
        return
    dry = queries.dryness(cast).dry
    if dry != bool(cast.dry_at):
        cast.dry_at = at if dry else None
        cast.save(update_fields=["dry_at"])


def _refuse_unless_framing(job: Job) -> None:
    if job.stage != Stage.FRAMING:
        raise MoveRefused(
            f"Job {job.spoken_reference} is at “{job.stage_words}”, not being framed."
        )
