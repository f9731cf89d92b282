"""The data of the family page: first names, progress, money, papers and consents of one job.

It holds no address, note, weight or stage code, so no template can show one.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any, cast
from uuid import UUID

from django.db.models import Prefetch, prefetch_related_objects
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from bookings.sittings.models import ClayPrint
from orders.family_page import progress
from orders.family_page.family_order import (
    Bill,
    LookChoices,
    Paper,
    PriceAnswer,
    bill_of,
    last_answer,
    look_choices,
    open_offer,
    papers_of,
)
from orders.order import totals
from orders.order.models import Order
from orders.order.totals import FINISHED
from orders.quotes.quotation import Offer
from production.casts.forecasts import cast_days_to_go
from production.frames.drawing import Proof
from production.frames.job_frames import frame_of
from studio.event_words import Promised
from studio.jobs.models import Job, JobEvent, Piece
from studio.jobs.stage_strip import Step, stage_strip
from studio.stages import BEFORE_FRAMING, Stage
from studio.units import join_names

if TYPE_CHECKING:
    from bookings.sittings.models import Sitting


BEGUN = gettext_noop("The framing has begun, so this stays as it is.")

BEGUN_WITHOUT = gettext_noop(
    "The framing has begun. If you have a wish for backing or finish, call us at once."
)

INVOICED = gettext_noop(
    "An invoice is written for this order: to change the look, call or write to us."
)

# Two fixings and never above a cot or bed: our policy.
HANGING = (
    gettext_noop("Never hang it above a cot, a bed or anywhere a child sleeps, sits or plays."),
    gettext_noop(
        "Use two fixings in the wall, both made for your kind of wall and for several times the weight."
    ),
    gettext_noop("Check the fixings and the cord once a year, and whenever it was knocked."),
    gettext_noop("Keep it out of damp rooms and away from radiators."),
)

HANGS_FROM = (Stage.FRAMING, *FINISHED)

MOST_EARLIER_EVENTS = 20

_PURPOSES = ("make", "keep", "show")

_ALSO = {
    "make": gettext_noop("Taking this back stops the work on your casts; we then speak with you."),
    "keep": gettext_noop("Taking this back also takes back that we may show them."),
}


@dataclass(frozen=True, slots=True)
class Look:
    """The chosen backing and finish, "" if not chosen."""

    backing: str
    finish: str
    why_fixed: str  # "" while it may be changed, and once it is made
    finished: bool
    choices: LookChoices | None  # None once it is fixed
    proof: Proof | None  # drawn to scale; None if the studio has described no moulding


@dataclass(frozen=True, slots=True)
class ConsentRow:
    """The newest consent for one purpose, given or withdrawn."""

    pk: int
    about_photos: bool
    also: str  # what else its withdrawal withdraws or stops
    purpose: str
    wording: str
    given_on: date
    withdrawn_on: date | None


@dataclass(frozen=True, slots=True)
class Picture:
    """A photograph of the finished frame that the family may see."""

    public_id: UUID
    width_px: int
    height_px: int


@dataclass(frozen=True, slots=True)
class HistoryEntry:
    """One event of the job as the family reads it."""

    on: date
    words: str


@dataclass(frozen=True, slots=True)
class ChildsCasts:
    """A child by its first name, and the limbs: "left hand, right foot"."""

    first_name: str
    limbs: str


@dataclass(frozen=True, slots=True)
class FamilyPage:
    """Everything that the template of the family page may show."""

    studio: str
    phone: str
    email: str
    currency: str
    how_to_pay: str
    reference: str
    names: str
    children: tuple[ChildsCasts, ...]
    step: str
    steps: tuple[Step, ...]
    status: progress.Status
    promise: progress.Promise | None
    history: tuple[HistoryEntry, ...]  # newest first
    look: Look | None
    bill: Bill | None
    offer: Offer | None  # None if there is nothing to answer
    answer: PriceAnswer | None
    papers: tuple[Paper, ...]
    pictures: tuple[Picture, ...]
    picture_words: str
    consents: tuple[ConsentRow, ...]
    hanging: tuple[str, ...]
    called_off: bool

    @property
    def asked_about_photos(self) -> bool:
        """Whether a consent to keep or show photographs is on record, given or withdrawn."""
        return any(consent.about_photos for consent in self.consents)


def family_page(job: Job, today: date) -> FamilyPage:
    """Load the family page of a job that has its family and unit.

    The number of queries does not grow with the pieces, events, payments or papers of the job.
    """
    pieces = _pieces(job)
    order = totals.order_of(job)
    consents = _consents(job)
    stopped = _is_stopped(job, consents)
    return FamilyPage(
        studio=job.unit.name,
        phone=job.unit.phone,
        email=job.unit.email,
        currency=job.unit.currency,
        how_to_pay=job.unit.payment_words,
        reference=job.display_reference,
        names=(names := join_names(each.child.first_name for each in pieces)),
        children=_children(pieces),
        **_progress(job, pieces, today, stopped=stopped),
        **(_money(job, order, pieces, today, stopped=stopped) if order else _NO_PRICE),
        pictures=_pictures(job),
        picture_words=_("The casts of %(names)s, framed") % {"names": names},
        consents=consents,
        hanging=tuple(_(point) for point in HANGING) if job.stage in HANGS_FROM else (),
        called_off=job.stage == Stage.CALLED_OFF,
    )


_NO_PRICE: dict[str, Any] = {
    "look": None,
    "bill": None,
    "offer": None,
    "answer": None,
    "papers": (),
}


def _money(
    job: Job, order: Order, pieces: Sequence[Piece], today: date, *, stopped: bool
) -> dict[str, Any]:
    """The fields of the page that come from the order."""
    bill, accepted = bill_of(job, order), order.quotes.last()
    paid_minor = bill.sums.paid_minor
    return {
        "look": _look(job, order, today) if _looks_matter(job, order) else None,
        "bill": bill,
        "offer": None if stopped else open_offer(order, pieces, accepted, paid_minor, today),
        "answer": last_answer(order, accepted),
        "papers": papers_of(order),
    }


def _pieces(job: Job) -> list[Piece]:
    """Load the pieces with child, prints and casts. Three queries; the frame's drawing reads them too."""
    prefetch_related_objects(
        [job],
        Prefetch("pieces", Piece.objects.select_related("child")),
        Prefetch("pieces__prints", ClayPrint.objects.select_related("sitting")),
        "pieces__casts",
    )
    return [piece for piece in job.pieces.all() if not piece.left_off_at]


def _children(pieces: Iterable[Piece]) -> tuple[ChildsCasts, ...]:
    limbs: dict[int, list[str]] = {}
    names: dict[int, str] = {}
    for piece in pieces:
        names[piece.child_id] = piece.child.first_name
        limbs.setdefault(piece.child_id, []).append(_(piece.get_limb_display()))
    return tuple(ChildsCasts(name, ", ".join(limbs[pk])) for pk, name in names.items())


def _progress(job: Job, pieces: Iterable[Piece], today: date, *, stopped: bool) -> dict[str, Any]:
    """The fields of the page that say how far the job is."""
    stage = cast(progress.Stage, job.stage)
    events = _without_reopened_sittings(job.events.oldest_first())
    moves = [event for event in events if event.what == "move"]
    sittings = list(job.sittings.exclude(state="cancelled").soonest_first())
    planned = next((each for each in sittings if each.state == "planned"), None)
    reached = {event.to_stage: timezone.localdate(event.at) for event in moves}
    if sittings:
        reached["booked"] = timezone.localdate(sittings[-1].starts_at)
    facts = progress.Facts(
        stage=stage,
        since=timezone.localdate(job.stage_since),
        came_from=moves[-1].from_stage if moves else None,
        sitting=_sitting(planned) if planned else None,
        days_to_go=_days_to_go(job, pieces, today),
        stopped=stopped,
    )
    change = _last_change(events)
    return {
        "step": stage,
        "steps": stage_strip(stage, progress.strip_labels(), reached, ends=True),
        "status": progress.status(facts, today),
        "promise": None if stopped else progress.promise(job.promised_on, stage, change, today),
        "history": _history(events),
    }


def _sitting(planned: "Sitting") -> progress.Sitting:
    minutes = int((planned.ends_at - planned.starts_at).total_seconds()) // 60
    return progress.Sitting(
        timezone.localtime(planned.starts_at), minutes, cast(progress.Place, planned.place)
    )


def _days_to_go(job: Job, pieces: Iterable[Piece], today: date) -> int | None:
    """Days until the slowest damp cast is probably dry, None if none is damp."""
    casts = (cast for piece in pieces for cast in piece.casts.all())
    return max(
        (
            cast_days_to_go(cast, today, job.unit.drying_days)
            for cast in casts
            if cast.demoulded_at and not cast.spoiled_at and not cast.dry_at
        ),
        default=None,
    )


def _without_reopened_sittings(events: Iterable[JobEvent]) -> list[JobEvent]:
    """Leave out the ends of sittings that were reopened: a slip, no news for a family."""
    shown: list[JobEvent] = []
    reopening = False
    for event in events:
        if event.what == "reopen_sitting":
            reopening = True
        elif reopening and event.what == "move":
            reopening = False
            ended = [e for e in shown if e.what == "move" and e.to_stage == event.from_stage]
            shown.remove(ended[-1])
        else:
            shown.append(event)
    return shown


def _last_change(events: Iterable[JobEvent]) -> progress.Change | None:
    changes = [event for event in events if event.what == "promise" and event.facts]
    if not changes:
        return None
    promised = Promised(**changes[-1].facts)
    before = date.fromisoformat(promised.before) if promised.before else None
    return progress.Change(before, date.fromisoformat(promised.day), changes[-1].why)


def _history(events: Iterable[JobEvent]) -> tuple[HistoryEntry, ...]:
    """Newest first; of the same event several times in a row only the last."""
    found: list[HistoryEntry] = []
    for event in reversed(list(events)):
        words = progress.event_text(
            event.what, event.from_stage, event.to_stage, by_family=event.by_id is None
        )
        if words and not (found and found[-1].words == words):
            found.append(HistoryEntry(timezone.localdate(event.at), words))
    return tuple(found[: MOST_EARLIER_EVENTS + 1])


def _looks_matter(job: Job, order: Order) -> bool:
    """Whether to show the look: not on a cancelled job, nor on a finished one without a choice."""
    if job.stage in FINISHED:
        return order.frame.has_backing_or_finish
    return job.stage != Stage.CALLED_OFF


def _look(job: Job, order: Order, today: date) -> Look:
    frame, finished = frame_of(job, today), job.stage in FINISHED
    why_fixed = "" if finished else _why_fixed(job, order)
    return Look(
        backing=str(order.frame.backing or ""),
        finish=str(order.frame.finish or ""),
        why_fixed=why_fixed,
        finished=finished,
        choices=None if why_fixed or finished else look_choices(order),
        proof=frame.proof() if frame else None,
    )


def _why_fixed(job: Job, order: Order) -> str:
    if totals.can_choose(job):
        return ""
    if job.stage in BEFORE_FRAMING:
        return _(INVOICED)
    return _(BEGUN) if order.frame.has_backing_or_finish else _(BEGUN_WITHOUT)


def _pictures(job: Job) -> tuple[Picture, ...]:
    return tuple(
        Picture(photo.public_id, *photo.view_size)
        for photo in job.photos.showable().filter(kind="finished")
    )


def _also(purpose: str, job: Job) -> str:
    also = "" if purpose == "make" and job.is_closed else _ALSO.get(purpose)
    return _(also) if also else ""


def _is_stopped(job: Job, consents: Iterable[ConsentRow]) -> bool:
    """Whether the consent to the casts of an open job was withdrawn."""
    make = [consent for consent in consents if not consent.about_photos]
    return not job.is_closed and any(consent.withdrawn_on for consent in make)


def _consents(job: Job) -> tuple[ConsentRow, ...]:
    """The newest consent for each purpose, in the order of the consent form."""
    newest = {consent.purpose: consent for consent in reversed(job.family.consents.all())}
    return tuple(
        ConsentRow(
            consent.pk,
            purpose != "make",
            _also(purpose, job),
            _(consent.get_purpose_display()),
            consent.wording,
            timezone.localdate(consent.given_at),
            timezone.localdate(consent.withdrawn_at) if consent.withdrawn_at else None,
        )
        for purpose, consent in sorted(newest.items(), key=lambda each: _PURPOSES.index(each[0]))
    )
