"""One job of the demo, brought from its booking to its present stage by the actions that people use.

Steps are generators: each yields the time of its next action and is resumed then (`loading.run`),
so that all jobs run side by side in the order of time, and stop at the present.
"""

from collections.abc import Callable, Generator
from datetime import date, datetime, timedelta
from uuid import UUID, uuid5

from bookings.consent.permissions import may_keep_photos
from bookings.diary import actions as diary_actions
from bookings.photos import actions as photos_actions
from bookings.sittings import actions as sittings_actions
from bookings.sittings.actions import PutOff
from bookings.sittings.models import ClayPrint, Sitting
from demo_data.clock import EVENING, MINUTES
from demo_data.files import JobRow
from demo_data.hand_over import call_off, call_off_at, hand_over
from demo_data.pictures import photographs
from demo_data.setting import Setting
from orders.invoices.actions import credit_invoice, issue_invoice
from production.bench import actions as bench_actions
from production.bench import framing, weighing
from production.casts.models import Cast
from production.casts.querysets import CastQuerySet
from studio.accounts.models import User
from studio.families.models import Family
from studio.jobs.models import Job
from studio.limbs import Limb
from studio.stages import Stage

Steps = Generator[datetime, datetime, None]

_ORDER = tuple(Stage)
_FRAME_STEPS = ("mounted", "closed", "backed", "sealed", "checked")
_DAYS_OF_THE_HELPER = (1, 3)
_MINUTE = timedelta(minutes=1)
_DAY = timedelta(days=1)


class Life:
    """A demo job; `way` runs its steps, `job` is None before the booking."""

    def __init__(self, setting: Setting, row: JobRow, family: Family) -> None:
        self.setting, self.row, self.family = setting, row, family
        self.clock, self.bench, self.owner = setting.clock, setting.bench, setting.owner
        self.starts_at = setting.diary.take(row.sitting)
        again = row.story.get("split") or row.story.get("spoiled") or {}
        self.again_at = setting.diary.take(again["ahead"]) if "ahead" in again else None
        self.job: Job | None = None

    @property
    def begun(self) -> Job:
        """The job, re-read. Raises RuntimeError before the booking."""
        if self.job is None:
            raise RuntimeError(f"{self.row.job} is not booked yet.")
        return Job.objects.select_related("family", "unit").get(pk=self.job.pk)

    @property
    def sitting_day(self) -> date:
        return self.clock.local_day(self.starts_at)

    def key(self, what: object) -> UUID:
        return uuid5(self.setting.namespace, f"{self.row.job} {what}")

    def after(self, days: int, clock: str) -> datetime:
        """Local time `clock`, so many days after the sitting."""
        return self.clock.on(self.sitting_day + timedelta(days=days), clock)

    def booked_at(self) -> datetime:
        """Time of the booking: the day after the enquiry, else an evening one to two weeks before the sitting."""
        spread = self.setting.spread(self.row.job)
        day = min(
            self.sitting_day - timedelta(days=9 + spread % 8), self.clock.day(-1 - spread % 4)
        )
        asked_on = self.setting.asked_on.get(self.row.family)
        if asked_on and asked_on < self.sitting_day:
            day = min(asked_on + _DAY, self.clock.day(-1))
        return self.clock.on(day, "20:10")

    def way(self) -> Steps:
        """Run the job up to the stage that it reaches, or until it is called off."""
        if "call_off" in self.row.story:
            yield from self._until(call_off_at(self), self._phases())
            yield from call_off(self)
        else:
            yield from self._phases()

    def _phases(self) -> Steps:
        phases: tuple[tuple[Stage, Callable[[], Steps]], ...] = (
            (Stage.BOOKED, self.book),
            (Stage.CLAY_REST, self.sit),
            (Stage.CASTING, self.pour),
            (Stage.DRYING, self.dry),
            (Stage.FRAMING, self.frame),
            (Stage.READY, self.finish),
            (Stage.HANDED_OVER, lambda: hand_over(self)),
        )
        for stage, phase in phases:
            if _ORDER.index(stage) <= _ORDER.index(self.row.reaches):
                yield from phase()

    @staticmethod
    def _until(end: datetime, steps: Steps) -> Steps:
        """Run the steps before `end`."""
        wanted = next(steps, None)
        while wanted and wanted < end:
            at = yield wanted
            try:
                wanted = steps.send(at)
            except StopIteration:
                return

    def book(self) -> Steps:
        at = yield self.booked_at()
        children = {child.first_name: child for child in self.family.children.all()}
        story = self.row.story
        sitting = diary_actions.book_sitting(
            self.family,
            wanted=[(children[child], Limb(limb)) for child, limb in self.row.pieces],
            starts_at=self.starts_at,
            minutes=MINUTES,
            place=story.get("place", Sitting.Place.HOME),
            place_words=story.get("place_words", ""),
            young_why=story.get("young_why", ""),
            by=self.owner,
            at=at,
            key=self.key("book"),
        )
        self.job = sitting.job

    def sit(self) -> Steps:
        sitting = self.begun.sittings.planned().get()
        at = yield self.starts_at - 5 * _MINUTE
        self.setting.ask_consent(self.family, at)
        for number, clay_print in enumerate(sitting.prints.all(), start=1):
            at = yield self.starts_at + 8 * number * _MINUTE
            self._log(clay_print, tray=str(number), at=at)
        at = yield sitting.ends_at
        put_off: PutOff = "split" if "split" in self.row.story else "leave"
        sittings_actions.finish_sitting(
            sitting, put_off=put_off, by=self.owner, at=at, key=self.key("sat")
        )
        self.bench.rest(self.begun)
        at = yield at + 2 * _MINUTE
        self._photograph_the_print(at)
        if put_off == "split":
            at = yield self.after(1, "20:20")
            self._book_again(self.begun.split_into.get(), at)

    def _log(self, clay_print: ClayPrint, *, tray: str, at: datetime) -> None:
        split, repeat = (self._about("split", clay_print), self._about("repeat", clay_print))

        def say(outcome: str, note: str, moment: datetime) -> None:
            sittings_actions.log_print(
                clay_print,
                outcome=outcome,
                note=note,
                tray=tray if outcome == ClayPrint.Outcome.TAKEN else "",
                by=self.owner,
                at=moment,
                key=self.key(f"{outcome} {clay_print.piece}"),
            )

        if split:
            say(ClayPrint.Outcome.NOT_TODAY, split["note"], at)
            return
        if repeat:
            say(ClayPrint.Outcome.REPEAT, repeat["note"], at - 3 * _MINUTE)
        say(ClayPrint.Outcome.TAKEN, "", at)

    def _about(self, what: str, of: ClayPrint | Cast) -> dict[str, str]:
        """Return this part of the job's story if it is about this piece ("Ada left hand"), else {}."""
        told = self.row.story.get(what, {})
        name = f"{of.piece.child.first_name} {of.piece.get_limb_display()}"
        return told if told.get("piece") == name else {}

    def _photograph_the_print(self, at: datetime) -> None:
        piece = photographs.first_print(self.begun)
        if not (self.row.followed and piece and may_keep_photos(self.family)):
            return
        photos_actions.add_photo(
            self.begun,
            clean=photographs.of_the_print(piece),
            kind="sitting",
            piece=piece,
            by=self.owner,
            at=at,
            key=self.key("photo of the print"),
        )

    def _book_again(self, job: Job, at: datetime) -> None:
        if self.again_at is None:
            raise RuntimeError(f"The story of {self.row.job} names no day for its next sitting.")
        diary_actions.book_again(
            job,
            starts_at=self.again_at,
            minutes=MINUTES,
            by=self.owner,
            at=at,
            key=self.key("book again"),
        )

    def pour(self) -> Steps:
        """Pour on the evening of the sitting; a job that stays at casting, an hour ago."""
        late = self.row.reaches == Stage.CASTING
        yield from self._pour_on(self.clock.recent_pour_at() if late else self.after(0, EVENING))

    def _pour_on(self, evening: datetime) -> Steps:
        yield evening - _MINUTE
        self.bench.release(self.begun)
        at = yield evening
        self.bench.pour(at)

    def dry(self) -> Steps:
        yield from self._demould(self.after(0, "21:15"))
        if self.begun.stage == Stage.CLAY_REST:
            yield from self._pour_on(self.after(1, EVENING))
            yield from self._demould(self.after(1, "21:15"))
        if self.begun.stage == Stage.BOOKED:
            at = yield self.after(1, "20:15")
            self._book_again(self.begun, at)
        yield from self._weigh()

    def _demould(self, at: datetime) -> Steps:
        for cast in list(self._casts().in_the_mould()):
            at = yield at + 4 * _MINUTE
            spoiled = self._about("spoiled", cast)
            if spoiled and not cast.piece.casts.filter(spoiled_at__isnull=False).exists():
                bench_actions.spoil_piece(
                    cast,
                    how=spoiled["how"],
                    why=spoiled["why"],
                    print_whole=bool(spoiled["print_whole"]),
                    by=self.owner,
                    at=at,
                    key=self.key(f"spoiled {cast.pk}"),
                )
                continue
            bench_actions.demould(cast, by=self.owner, at=at, key=self.key(f"demould {cast.pk}"))
            at = yield at + _MINUTE
            self._put_on_the_scale(cast, 0, 1.0, at)

    def _weigh(self) -> Steps:
        """Weigh the casts on the mornings of their course of drying; today's weighing is left to do."""
        course = self.setting.courses[self.row.drying]
        due = sorted(
            (self.clock.local_day(cast.demoulded_at) + timedelta(days=day), cast.pk, day, left)
            for cast in self._casts()
            if cast.demoulded_at
            for day, left in course
            if day
        )
        for place, (on, pk, day, left) in enumerate(due):
            if self.row.reaches == Stage.DRYING and on >= self.clock.today:
                continue
            at = yield self.clock.on(on, "08:05") + place % 8 * _MINUTE
            self._put_on_the_scale(self._casts().get(pk=pk), day, left, at)
        yield from self._release()

    def _put_on_the_scale(self, cast: Cast, day: int, left: float, at: datetime) -> None:
        mass_g = self.bench.mass_g(cast, left)
        told = self._about("heavier", cast)
        heavier = bool(told) and int(told["after"]) == day
        last = cast.weighings.oldest_first().last()
        if heavier and last:
            mass_g = last.mass_g + int(told["grams"])
        weighing.weigh(
            cast,
            mass_g=mass_g,
            heavier_why=told["why"] if heavier else "",
            by=self._hand(at),
            at=at,
            key=self.key(f"weigh {cast.pk} {day}"),
        )

    def _release(self) -> Steps:
        if told := self.row.story.get("released"):
            at = yield self.clock.on(self.clock.day(-told["ago"]), "20:40")
            for cast in self._casts().damp():
                why = told["why"]
                key = self.key(f"release {cast.pk}")
                weighing.release_dry(cast, why=why, by=self.owner, at=at, key=key)

    def frame(self) -> Steps:
        done_on = max(row.at for cast in self._casts() for row in cast.weighings.all())
        day = self.clock.local_day(done_on)
        at = yield self.clock.on(day, "19:15")
        framing.start_framing(
            self.begun,
            seen=Stage.DRYING,
            glazed=not self.row.story.get("open_frame", False),
            by=self.owner,
            at=at,
            key=self.key("frame"),
        )
        first, second = self.clock.on(day, "19:40"), self.clock.on(day + _DAY, "19:20")
        times = (first, first + 40 * _MINUTE, second, second + 25 * _MINUTE, second + 50 * _MINUTE)
        ticks = self.row.story.get("ticks", len(_FRAME_STEPS))
        for step, moment in list(zip(_FRAME_STEPS, times, strict=True))[:ticks]:
            at = yield moment
            framing.tick_frame(
                self.begun, step=step, by=self.owner, at=at, key=self.key(f"tick {step}")
            )

    def finish(self) -> Steps:
        frame = self.begun.frame
        at = yield (frame.checked_at or frame.started_at) + 15 * _MINUTE
        if may_keep_photos(self.family):
            photos_actions.add_photo(
                self.begun,
                clean=photographs.of_the_frame(self.begun, self.begun.order, frame),
                kind="finished",
                by=self.owner,
                at=at,
                key=self.key("photo of the frame"),
            )
        framing.make_ready(
            self.begun, seen=Stage.FRAMING, by=self.owner, at=at, key=self.key("ready")
        )
        if self.row.story.get("uninvoiced"):
            return
        at = yield at + 10 * _MINUTE
        key = self.key("invoice")
        invoice = issue_invoice(self.begun.order, by=self.owner, at=at, key=key)
        if why := self.row.story.get("credit"):
            at = yield at + _DAY
            credit_invoice(invoice, why=why, by=self.owner, at=at, key=self.key("credit"))
            key = self.key("invoice anew")
            issue_invoice(self.begun.order, by=self.owner, at=at, key=key)

    def _casts(self) -> CastQuerySet:
        found = Cast.objects.whole().filter(piece__job=self.begun)
        return found.select_related("pour", "piece__child")

    def _hand(self, at: datetime) -> User:
        """The person at work: the helper on Tuesdays and Thursdays, else the owner."""
        return self.setting.helper if at.weekday() in _DAYS_OF_THE_HELPER else self.owner
