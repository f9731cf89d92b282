"""Actions of framing: the range, a job's frame, the cutting, and the offcut rack."""

from collections.abc import Collection, Iterable, Mapping
from datetime import datetime
from typing import Any
from uuid import UUID, uuid5

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext

from production.event_words import FrameChosen, RailsCut
from production.frames import job_frames, materials
from production.frames.cutting.bar_plan import BarPlan
from production.frames.cutting_week import CuttingWeek, offcuts_in_rack, plan_cutting
from production.frames.models import (
    CutFrame,
    Cutting,
    FrameHabits,
    FrameOption,
    FrameSize,
    FrameSpecification,
    Moulding,
    Offcut,
)
from production.signals import frame_chosen
from production.stock.moves import Note, lock_materials
from production.stock.usage import share_use
from studio.accounts.actions import lock_unit
from studio.accounts.models import Unit, User
from studio.jobs.job_action import (
    JobAction,
    job_action,
    lock_job,
    record,
    refuse_closed,
    unit_action,
)
from studio.jobs.models import Job
from studio.stages import BEFORE_FRAMING, ActionRefused, MovedMeanwhile, MoveRefused, Stage
from studio.versions import save_edited


@transaction.atomic
def edit_frame_habits(unit: Unit, *, facts: Mapping[str, Any], seen_version: int) -> FrameHabits:
    """Change the unit's usual margins, materials and sheet sizes. Raises EditedMeanwhile."""
    lock_unit(unit)
    habits, _ = FrameHabits.objects.get_or_create(unit=unit)
    save_edited(habits, facts, seen_version=seen_version)
    return habits


def add_moulding(unit: Unit, *, facts: Mapping[str, Any]) -> Moulding:
    """Add a moulding to the range."""
    return unit.mouldings.create(**facts)


def edit_moulding(moulding: Moulding, *, facts: Mapping[str, Any], seen_version: int) -> None:
    """Change a moulding. Raises EditedMeanwhile."""
    save_edited(moulding, facts, seen_version=seen_version)


@transaction.atomic
def retire_moulding(moulding: Moulding, *, at: datetime) -> None:
    """Remove a moulding from the range; past cuttings keep it. Repeating it changes nothing.

    Raises ActionRefused while offcuts of it are in the rack or frames of open jobs are still to be cut of it.
    """
    held = Moulding.objects.select_for_update().get(pk=moulding.pk)
    if held.offcuts.filter(gone_at=None).exists():
        raise ActionRefused(
            f"There are offcuts of {held} in the rack: use them up, or throw them away first."
        )
    waiting = held.unit.jobs.open().filter(frame_specification__moulding=held, cut_frame=None)
    if names := ", ".join(job.display_reference for job in waiting.soonest_first()):
        raise ActionRefused(
            f"{held} is chosen for frames that are not cut: {names}. Choose another one for them first."
        )
    held.retired_at = held.retired_at or at
    held.save(update_fields=["retired_at"])


def add_frame_size(unit: Unit, *, facts: Mapping[str, Any]) -> FrameSize:
    """Add a size to the range."""
    return unit.frame_sizes.create(**facts)


def drop_frame_size(size: FrameSize) -> None:
    """Remove a size from the range; frames chosen in it keep their size. Repeating it changes nothing."""
    FrameSize.objects.filter(pk=size.pk).delete()


@job_action(lambda job, earlier: FrameSpecification.objects.get(job=job))
def choose_frame(
    act: JobAction,
    job: Job,
    *,
    facts: Mapping[str, Any],
    seen_version: int,
    by: User,
    at: datetime,
    key: UUID,
) -> FrameSpecification:
    """Choose moulding, inside size, grain and plate of a job's frame; an empty size is computed.

    Raises EditedMeanwhile; ActionRefused for a retired moulding; MoveRefused once its rails are cut or the job
    has ended.
    """
    held = act.job
    choice, _ = FrameSpecification.objects.get_or_create(job=held)
    refuse_closed(held)
    if CutFrame.objects.filter(job=held).exists():
        raise MoveRefused("The rails of this frame are cut.")
    if chosen := facts.get("moulding"):
        moulding = Moulding.objects.select_for_update().get(pk=chosen.pk)
        if moulding.retired_at:
            raise ActionRefused(f"{moulding} is no longer used: choose another one.")
    save_edited(choice, facts, seen_version=seen_version)
    act.record(
        facts=FrameChosen(
            str(choice.moulding or ""), choice.width_mm, choice.height_mm, choice.matched
        )
    )
    frame_chosen.send(Job, job=held, by=by, at=at, key=key)
    return choice


def change_backing_and_finish(
    held: Job,
    *,
    backing: FrameOption | None,
    finish: FrameOption | None,
    plate_words: str | None = None,
    layout_words: str | None = None,
    seen_version: int,
    by: User | None,
) -> FrameSpecification:
    """Change backing and finish of a job's frame; texts that are None stay as they are.

    The family (`by` None) may change them until framing starts, the studio until the frame is ready; later
    raises MoveRefused. Raises EditedMeanwhile if the specification has changed since it was seen. Call it in
    the transaction that has locked the job.
    """
    choice, _ = FrameSpecification.objects.get_or_create(job=held)
    if not (held.stage in BEFORE_FRAMING or (by and held.stage == Stage.FRAMING)):
        raise MoveRefused(
            gettext("The framing has begun: backing and finish can no longer be changed.")
        )
    given = {"plate_words": plate_words, "layout_words": layout_words}
    words = {name: said.strip() for name, said in given.items() if said is not None}
    save_edited(choice, {"backing": backing, "finish": finish, **words}, seen_version=seen_version)
    return choice


def drop_unoffered_options(held: Job, offered: Collection[int]) -> None:
    """Clear backing and finish unless they are among the `offered` options (primary keys).

    Call it in the transaction that has locked the job.
    """
    choice, _ = FrameSpecification.objects.get_or_create(job=held)
    left = {
        name: pk if (pk := getattr(choice, f"{name}_id")) in offered else None
        for name in ("backing", "finish")
    }
    changes = {f"{name}_id": pk for name, pk in left.items()}
    save_edited(choice, changes, seen_version=choice.version)


@unit_action("cuttings")
def confirm_cutting(
    unit: Unit,
    *,
    moulding: Moulding,
    jobs: Iterable[Job],
    seal: str,
    also: Collection[str] = (),
    beyond: bool = False,
    by: User,
    at: datetime,
    key: UUID,
) -> Cutting:
    """Record that these frames were cut as drawn: new bars leave the stores, used offcuts the offcut rack.

    Reusable offcuts are added under new numbers. `also`: what else was cut (`materials.BOARDS`,
    `materials.GLASS`). `beyond`: cut although the books of the stores are short. Raises ActionRefused
    without a frame or where the stores are short, MovedMeanwhile where the drawing is no longer the one
    that was seen (`seal`).
    """
    # Lock all jobs before reading any frame, in a fixed order, so that no frame is cut twice.
    wanted = {lock_job(job).pk for job in sorted(jobs, key=lambda job: job.pk)}
    range_ = job_frames.frame_range(unit)
    week = _week_as_seen(unit, moulding, wanted, range_, at, seal)
    cutting = Cutting.objects.create(
        unit=unit,
        moulding=moulding,
        new_bars=week.plan.new_bars if week.plan else 0,
        content=content_of(week),
        at=at,
        by=by,
        key=key,
    )
    _note_frames(cutting, week.frames, key)
    _change_rack(cutting, week, key)
    uses = materials.cutting_uses(week, range_.habits)
    done = [each for each in uses if each.what in (materials.RAILS, *also)]
    _take_stock(cutting, done, key, beyond=beyond)
    return cutting


def _week_as_seen(
    unit: Unit,
    moulding: Moulding,
    jobs: Collection[int],
    range_: job_frames.Range,
    at: datetime,
    seal: str,
) -> CuttingWeek:
    """Draw the cutting of these jobs' frames (primary keys) again and check that it is the one that was seen."""
    frames = [
        frame
        for frame in job_frames.frames_to_cut(unit, at, range_)
        if frame.job.pk in jobs and frame.moulding.pk == moulding.pk
    ]
    if not frames:
        raise ActionRefused("Tick the frames that you cut.")
    week = plan_cutting(frames, moulding, range_.habits, offcuts_in_rack(moulding))
    if week.plan is None:
        raise ActionRefused(week.why_not)
    if week.seal != seal:
        raise MovedMeanwhile(
            "A frame, the rack or the moulding has changed since this drawing was made. "
            "Nothing was written: look at the drawing as it is now."
        )
    return week


@unit_action("offcuts")
def add_offcut(moulding: Moulding, *, facts: Mapping[str, Any], at: datetime, key: UUID) -> Offcut:
    """Add an offcut that is already in the offcut rack, under the next number."""
    return Offcut.objects.create(
        unit=moulding.unit,
        moulding=moulding,
        number=_next_number(moulding.unit),
        racked_at=at,
        key=key,
        **facts,
    )


@transaction.atomic
def throw_away_offcut(offcut: Offcut, *, at: datetime) -> None:
    """Remove an unused offcut from the offcut rack. Repeating it, or an offcut that a cutting has used, changes nothing."""
    lock_unit(offcut.unit)  # a cutting that is being confirmed counts on it
    Offcut.objects.filter(pk=offcut.pk, gone_at=None).update(gone_at=at)


def content_of(week: CuttingWeek) -> dict[str, Any]:
    """Return the drawing of a cutting as JSON: plain numbers and words."""
    return {
        "frames": [
            {
                "reference": frame.reference,
                "names": frame.names,
                "rails_mm": list(frame.rails_mm),
                "board_mm": list(frame.board_mm),
            }
            for frame in week.frames
        ],
        "bars": [
            {
                "name": bar.name,
                "length_mm": bar.length_mm,
                "is_new": bar.is_new,
                "stretches": [
                    {
                        "from_mm": each.from_mm,
                        "length_mm": each.length_mm,
                        "kind": each.kind,
                        "name": each.name,
                        "number": each.number,
                    }
                    for each in bar.stretches
                ],
            }
            for bar in week.bars
        ],
    }


def _note_frames(cutting: Cutting, frames: Iterable[job_frames.JobFrame], key: UUID) -> None:
    for frame in frames:
        CutFrame.objects.create(cutting=cutting, job=frame.job)
        record(
            frame.job,
            what="confirm_cutting",
            by=cutting.by,
            at=cutting.at,
            key=uuid5(key, frame.reference),
            facts=RailsCut(str(cutting.moulding), list(frame.rails_mm[:2])),
        )


def _change_rack(cutting: Cutting, week: CuttingWeek, key: UUID) -> None:
    plan: BarPlan | None = week.plan
    if plan is None:
        return
    used = {bar.bar.name for bar in plan.bars if not bar.is_new}
    taken = [offcut.pk for offcut in week.rack if offcut.label in used]
    Offcut.objects.filter(pk__in=taken).update(used_by=cutting, gone_at=cutting.at)
    number = _next_number(cutting.unit)
    runs = [run for bar in plan.bars for run in bar.offcuts]
    Offcut.objects.bulk_create(
        Offcut(
            unit=cutting.unit,
            moulding=cutting.moulding,
            number=number + place,
            length_mm=run.length_mm,
            racked_at=cutting.at,
            came_from=cutting,
            key=uuid5(key, f"offcut {place}"),
        )
        for place, run in enumerate(runs)
    )


def _take_stock(
    cutting: Cutting, uses: Collection[materials.MaterialUse], key: UUID, *, beyond: bool
) -> None:
    """Withdraw the materials, shared by the jobs; raise ActionRefused if the stores are short, unless `beyond`."""
    lock_materials(cutting.unit, [each.material for each in uses])
    if not beyond and (short := materials.shortages(cutting.unit, uses)):
        raise ActionRefused(*short)
    for each in uses:
        note = Note(cutting.by, cutting.at, key, f"{each.what} of {cutting.moulding}")
        share_use(each.material, each.quantity, each.weights, note=note)


def _next_number(unit: Unit) -> int:
    return (unit.offcuts.aggregate(most=Max("number"))["most"] or 0) + 1
