"""What a family sees of its own job: first names, plain words, its money. Reads only.

No address, no note, no weight and no stage's code is in here, so no template can show one.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any, cast
from uuid import UUID

from django.db.models import Prefetch, prefetch_related_objects
from django.utils import timezone

from bookings.sittings.models import Impression
from orders.family_page import progress
from orders.family_page.look_choices import LookAsked, look_asked
from orders.order import totals
from orders.order.models import Order
from orders.order.totals import FINISHED
from orders.payments.received import received
from orders.prices.vat import Received
from orders.quotes.models import FamilyAnswer, Quote
from orders.quotes.quotation import Offer, offer_from
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


BEGUN = "The framing has begun, so this stays as it is."

BEGUN_WITHOUT = "The framing has begun. If you have a wish for backing or finish, call us at once."

INVOICED = "An invoice is written for this order: to change the look, call or write to us."

# Two fixings and never above a cot or bed: our policy.
HANGING = (
    "Never hang it above a cot, a bed or anywhere a child sleeps, sits or plays.",
    "Use two fixings in the wall, both made for your kind of wall and for several times the weight.",
    "Check the fixings and the cord once a year, and whenever it was knocked.",
    "Keep it out of damp rooms and away from radiators.",
)

HANGS_FROM = (Stage.FRAMING, *FINISHED)

MOST_EARLIER = 20

_ASKED = ("make", "keep", "show")

_ALSO = {
    "make": "Taking this back stops the work on your casts; we then speak with you.",
    "keep": "Taking this back also takes back that we may show them.",
}


@dataclass(frozen=True, slots=True)
class Line:
    label: str
    quantity: int
    amount_minor: int


@dataclass(frozen=True, slots=True)
class Bill:
    """What it costs and what was paid; without lines there is no price yet."""

    lines: tuple[Line, ...]
    payments: tuple[Received, ...]
    sums: totals.Sums
    asks_deposit: bool
    deposit_days: int
    """Due so many days before the sitting."""

    @property
    def back_minor(self) -> int:
        """What the studio owes the family."""
        return max(0, -self.sums.balance_minor)


@dataclass(frozen=True, slots=True)
class Look:
    """The chosen backing and finish, "" where none is chosen."""

    backing: str
    finish: str
    why_fixed: str  # "" while it may be changed, and once it is made
    finished: bool
    asked: LookAsked | None  # what may be chosen; None where it is fixed
    proof: Proof | None  # drawn to scale; None where the studio has described no moulding


@dataclass(frozen=True, slots=True)
class Said:
    """What the family answered to the price: `words` says what and how."""

    on: date
    words: str
    total_minor: int
    quote_pk: int | None = None


@dataclass(frozen=True, slots=True)
class Paper:
    pk: int
    number: str
    kind: str
    issued_on: date
    total_minor: int


@dataclass(frozen=True, slots=True)
class Consented:
    pk: int
    about_photos: bool
    also: str  # what taking it back takes back besides, or brings with it
    purpose: str
    wording: str
    given_on: date
    withdrawn_on: date | None


@dataclass(frozen=True, slots=True)
class Picture:
    public_id: UUID
    width_px: int
    height_px: int


@dataclass(frozen=True, slots=True)
class Happening:
    on: date
    words: str


@dataclass(frozen=True, slots=True)
class ChildsCasts:
    """A child by its first name, and the limbs: "left hand, right foot"."""

    first_name: str
    limbs: str


@dataclass(frozen=True, slots=True)
class ParentView:
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
    where: progress.Words
    promise: progress.Promise | None
    happenings: tuple[Happening, ...]  # the newest first
    look: Look | None
    bill: Bill | None
    offer: Offer | None  # to be answered; None where nothing is to be
    said: Said | None
    papers: tuple[Paper, ...]
    pictures: tuple[Picture, ...]
    picture_words: str
    consents: tuple[Consented, ...]
    hanging: tuple[str, ...]
    called_off: bool

    @property
    def said_of_photos(self) -> bool:
        return any(consent.about_photos for consent in self.consents)


def parent_view(job: Job, today: date) -> ParentView:
    """The family's page as facts, of a job with its family and unit; no more queries for more rows."""
    pieces = _pieces(job)
    order = totals.order_of(job)
    bill = _bill(job, order) if order else None
    consents = _consents(job)
    stopped = _is_stopped(job, consents)
    return ParentView(
        studio=job.unit.name,
        phone=job.unit.phone,
        email=job.unit.email,
        currency=job.unit.currency,
        how_to_pay=job.unit.payment_words,
        reference=job.spoken_reference,
        names=(names := join_names(each.child.first_name for each in pieces)),
        children=_children(pieces),
        **_way(job, pieces, today, stopped=stopped),
        look=_look(job, order, today) if order and _looks_matter(job, order) else None,
        bill=bill,
        **(_offer(order, pieces, bill, today, stopped=stopped) if order and bill else _NO_OFFER),
        papers=_papers(order) if order else (),
        pictures=_pictures(job),
        picture_words=f"The casts of {names}, framed",
        consents=consents,
        hanging=HANGING if job.stage in HANGS_FROM else (),
        called_off=job.stage == Stage.CALLED_OFF,
    )


def _pieces(job: Job) -> list[Piece]:
    """Load the pieces with child, prints and casts. Three queries; the frame's drawing reads them too."""
    prefetch_related_objects(
        [job],
        Prefetch("pieces", Piece.objects.select_related("child")),
        Prefetch("pieces__impressions", Impression.objects.select_related("sitting")),
        "pieces__casts",
    )
    return [piece for piece in job.pieces.all() if not piece.left_off_at]


def _children(pieces: Iterable[Piece]) -> tuple[ChildsCasts, ...]:
    limbs: dict[int, list[str]] = {}
    names: dict[int, str] = {}
    for piece in pieces:
        names[piece.child_id] = piece.child.first_name
        limbs.setdefault(piece.child_id, []).append(piece.get_limb_display())
    return tuple(ChildsCasts(name, ", ".join(limbs[pk])) for pk, name in names.items())


def _way(job: Job, pieces: Iterable[Piece], today: date, *, stopped: bool) -> dict[str, Any]:
    """The fields of the view that say how far the job is."""
    stage = cast(progress.Stage, job.stage)
    events = _as_it_stands(job.events.oldest_first())
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
        "where": progress.where(facts, today),
        "promise": None if stopped else progress.promise(job.promised_on, stage, change, today),
        "happenings": _happenings(events),
    }


def _sitting(planned: "Sitting") -> progress.Sitting:
    minutes = int((planned.ends_at - planned.starts_at).total_seconds()) // 60
    return progress.Sitting(
        timezone.localtime(planned.starts_at), minutes, cast(progress.Place, planned.place)
    )


def _days_to_go(job: Job, pieces: Iterable[Piece], today: date) -> int | None:
    """Until the slowest damp cast is probably dry; None where none is damp."""
    casts = (cast for piece in pieces for cast in piece.casts.all())
    return max(
        (
            cast_days_to_go(cast, today, job.unit.drying_days)
            for cast in casts
            if cast.demoulded_at and not cast.spoiled_at and not cast.dry_at
        ),
        default=None,
    )


def _as_it_stands(events: Iterable[JobEvent]) -> list[JobEvent]:
    """Without the ends of sittings that were opened again at once: a slip, no news for a family."""
    kept: list[JobEvent] = []
    reopening = False
    for event in events:
        if event.what == "reopen_sitting":
            reopening = True
        elif reopening and event.what == "move":
            reopening = False
            ended = [e for e in kept if e.what == "move" and e.to_stage == event.from_stage]
            kept.remove(ended[-1])
        else:
            kept.append(event)
    return kept


def _last_change(events: Iterable[JobEvent]) -> progress.Change | None:
    changes = [event for event in events if event.what == "promise" and event.facts]
    if not changes:
        return None
    promised = Promised(**changes[-1].facts)
    before = date.fromisoformat(promised.before) if promised.before else None
    return progress.Change(before, date.fromisoformat(promised.day), changes[-1].why)


def _happenings(events: Iterable[JobEvent]) -> tuple[Happening, ...]:
    """The newest first; of the same thing several times on end, the last time."""
    found: list[Happening] = []
    for event in reversed(list(events)):
        words = progress.happened(
            event.what, event.from_stage, event.to_stage, by_family=event.by_id is None
        )
        if words and not (found and found[-1].words == words):
            found.append(Happening(timezone.localdate(event.at), words))
    return tuple(found[: MOST_EARLIER + 1])


def _looks_matter(job: Job, order: Order) -> bool:
    """Not on a job called off, nor on a finished one for which nothing was chosen."""
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
        asked=None if why_fixed or finished else look_asked(order),
        proof=frame.proof() if frame else None,
    )


def _why_fixed(job: Job, order: Order) -> str:
    if totals.can_choose(job):
        return ""
    if job.stage in BEFORE_FRAMING:
        return INVOICED
    return BEGUN if order.frame.has_backing_or_finish else BEGUN_WITHOUT


def _bill(job: Job, order: Order) -> Bill:
    lines = tuple(Line(li.label, li.quantity, li.amount_minor) for li in order.lines.all())
    payments, sums = tuple(received(order)), totals.sums(order)
    asks = not (job.is_closed or job.stage == Stage.READY) and sums.deposit_left_minor > 0
    days = job.unit.deposit_days if job.stage == Stage.BOOKED else 0
    return Bill(lines, payments, sums, asks_deposit=asks, deposit_days=days)


_NO_OFFER: dict[str, Any] = {"offer": None, "said": None}


def _offer(
    order: Order, pieces: Sequence[Piece], bill: Bill, today: date, *, stopped: bool
) -> dict[str, Any]:
    """What may still be answered, and the newest answer. Two queries."""
    if order.job.stage == Stage.CALLED_OFF:
        return _NO_OFFER
    accepted, answer = order.quotes.last(), order.answers.last()
    said = _said(answer, accepted)
    if stopped or totals.standing_invoice(order) or order.job.is_closed:
        return {"offer": None, "said": said}
    lines = list(order.lines.all())
    offer = offer_from(order, lines, pieces, bill.sums.paid_minor, today)
    same = accepted is not None and accepted.content == offer.content
    return {"offer": offer if offer.total_minor > 0 and not same else None, "said": said}


def _said(answer: FamilyAnswer | None, accepted: Quote | None) -> Said | None:
    if (
        answer
        and not answer.said_yes
        and (not accepted or accepted.accepted_at < answer.answered_at)
    ):
        words = f"You said no: “{answer.words}”" if answer.words else "You said no"
        return Said(timezone.localdate(answer.answered_at), words, answer.total_minor)
    if accepted is None:
        return None
    how = "here" if accepted.by_id is None else accepted.get_how_display()
    on = timezone.localdate(accepted.accepted_at)
    return Said(on, f"You ordered {how}", accepted.total_minor, accepted.pk)


def _papers(order: Order) -> tuple[Paper, ...]:
    """The newest first."""
    papers = sorted(order.invoices.all(), key=lambda each: (each.issued_on, each.pk), reverse=True)
    return tuple(
        Paper(paper.pk, paper.number, paper.get_kind_display(), paper.issued_on, paper.total_minor)
        for paper in papers
    )


def _pictures(job: Job) -> tuple[Picture, ...]:
    return tuple(
        Picture(photo.public_id, *photo.view_size)
        for photo in job.photos.showable().filter(kind="finished")
    )


def _also(purpose: str, job: Job) -> str:
    return "" if purpose == "make" and job.is_closed else _ALSO.get(purpose, "")


def _is_stopped(job: Job, consents: Iterable[Consented]) -> bool:
    """Whether the yes to the casts of a job in hand was taken back."""
    make = [consent for consent in consents if not consent.about_photos]
    return not job.is_closed and any(consent.withdrawn_on for consent in make)


def _consents(job: Job) -> tuple[Consented, ...]:
    """The last word on each purpose, in the order in which they are asked."""
    newest = {consent.purpose: consent for consent in reversed(job.family.consents.all())}
    return tuple(
        Consented(
            consent.pk,
            consent.purpose != "make",
            _also(consent.purpose, job),
            consent.get_purpose_display(),
            consent.wording,
            timezone.localdate(consent.given_at),
            timezone.localdate(consent.withdrawn_at) if consent.withdrawn_at else None,
        )
        for _, consent in sorted(newest.items(), key=lambda each: _ASKED.index(each[0]))
    )
