"""Reads of enquiries, the diary, impressions, consent and photographs."""

from collections.abc import Sequence
from datetime import datetime
from itertools import count
from typing import TYPE_CHECKING, Self

from django.db import models

from bookings import learning, slots
from studio import event_words
from studio.models import Family, Job
from studio.stages import OPEN, Stage

if TYPE_CHECKING:
    from bookings.models import Consent, Enquiry, Impression, Photo, Sitting  # noqa: F401
    from studio.models import JobEvent, Unit
    from studio.queries import FamilyQuerySet, JobQuerySet, PieceQuerySet


class EnquiryQuerySet(models.QuerySet["Enquiry"]):
    def waiting(self) -> Self:
        return self.filter(answer="").order_by("received_at", "pk")

    def lately_answered(self) -> Self:
        return self.exclude(answer="").select_related("family").order_by("-answered_at")[:10]


class SittingQuerySet(models.QuerySet["Sitting"]):
    def planned(self) -> Self:
        """Sittings still to be held; those of a job that was called off are not."""
        return self.filter(state="planned", job__stage__in=OPEN)

    def standing(self) -> Self:
        """What the diary shows, in order, with everybody in it: to come or done, not cancelled."""
        shown = models.Q(state="done") | models.Q(state="planned", job__stage__in=OPEN)
        return self.filter(shown).soonest_first().with_people()

    def between(self, start: datetime, end: datetime) -> Self:
        """Sittings that begin in [start, end)."""
        return self.filter(starts_at__gte=start, starts_at__lt=end)

    def overlapping(self, start: datetime, end: datetime) -> Self:
        """Planned sittings that share a moment with [start, end)."""
        return self.planned().filter(starts_at__lt=end, ends_at__gt=start)

    def soonest_first(self) -> Self:
        return self.order_by("starts_at", "pk")

    def with_people(self) -> Self:
        """Loads job, family, impressions, pieces and children: two queries for any number."""
        from bookings.models import Impression  # noqa: PLC0415 - models import their query sets

        impressions = Impression.objects.with_child()
        return self.select_related("job__family").prefetch_related(
            models.Prefetch("impressions", impressions)
        )

    def with_pieces(self) -> Self:
        """All pieces of the jobs too, left off or not: a piece is numbered among them. One query."""
        return self.prefetch_related("job__pieces")


class ImpressionQuerySet(models.QuerySet["Impression"]):
    def on_the_job(self) -> Self:
        """Impressions of pieces that are still part of their order."""
        return self.filter(piece__left_off_at=None)

    def taken(self) -> Self:
        """Whole prints: in the clay, or poured since."""
        return self.on_the_job().filter(live=True, outcome="taken")

    def with_child(self) -> Self:
        return self.select_related("piece__child")


class ConsentQuerySet(models.QuerySet["Consent"]):
    def standing(self) -> Self:
        return self.filter(withdrawn_at=None)


class PhotoQuerySet(models.QuerySet["Photo"]):
    def showable(self) -> Self:
        """Photographs whose family still consents to their being kept."""
        return self.filter(_family_keeps())

    def with_job(self) -> Self:
        return self.select_related("job", "piece__child")

    def to_erase(self) -> Self:
        """Photographs whose family has taken its consent back."""
        return self.exclude(_family_keeps())


def _family_keeps() -> models.Exists:
    """Of a photograph: whether its family's yes to keeping it stands."""
    from bookings.models import Consent  # noqa: PLC0415 - models import their query sets

    standing = Consent.objects.standing().filter(purpose="keep")
    return models.Exists(standing.filter(family=models.OuterRef("job__family")))


def impressed_pieces(job: "Job") -> "PieceQuerySet":
    """The job's pieces whose print is taken and whole."""
    return job.pieces.on_the_job().filter(impressions__live=True, impressions__outcome="taken")


def keeps_photos(family: "Family") -> bool:
    """Whether the family's yes to keeping photographs stands."""
    return family.consents.standing().filter(purpose="keep").exists()


def may_make(family: "Family") -> bool:
    """Whether the family's yes to prints and casts stands."""
    return family.consents.standing().filter(purpose="make").exists()


def stopped(jobs: "Sequence[Job] | JobQuerySet") -> list["Family"]:
    """The families of these jobs that said yes to the casts and took it back. One query.

    One that was never asked is not among them.
    """
    from bookings.models import Consent  # noqa: PLC0415 - models import their query sets

    words = Consent.objects.filter(family__jobs__in=jobs, purpose="make")
    stands: dict[Family, bool] = {}
    for word in words.select_related("family").order_by("family_id").distinct():
        stands[word.family] = stands.get(word.family, False) or word.withdrawn_at is None
    return [family for family, stood in stands.items() if not stood]


def families_to_erase(unit: "Unit") -> list[tuple["Family", int]]:
    """Families without consent to keep photographs that still have some, and how many. Two queries.

    Only a family that withdrew its consent can have any: those are few, the photographs many.
    """
    from bookings.models import Photo  # noqa: PLC0415 - models import their query sets

    left = Photo.objects.filter(job__family=models.OuterRef("pk")).to_erase()
    found = list(_withdrew(unit, "keep").filter(models.Exists(left)))
    if not found:
        return []
    theirs = unit.photos.filter(job__family__in=found).order_by()
    counts = dict(theirs.values_list("job__family").annotate(models.Count("pk")))
    # Put in order here: asked for it, SQLite would walk through all families by their name.
    return [(family, counts[family.pk]) for family in sorted(found, key=lambda f: f.name.lower())]


def family_says(family: "Family") -> tuple[bool, bool]:
    """Whether its photographs may be kept, and whether it withdrew its consent to the casts. One query."""
    said = list(family.consents.values_list("purpose", "withdrawn_at"))
    standing = {purpose for purpose, withdrawn_at in said if withdrawn_at is None}
    return "keep" in standing, "make" in {purpose for purpose, _ in said} - standing


def stopped_in_hand(unit: "Unit") -> "FamilyQuerySet":
    """The families of open jobs that withdrew their consent to the casts. One query."""
    from bookings.models import Consent  # noqa: PLC0415 - models import their query sets

    stands = Consent.objects.standing().filter(purpose="make", family=models.OuterRef("pk"))
    in_hand = Job.objects.in_hand().filter(family=models.OuterRef("pk"))
    found = _withdrew(unit, "make").filter(~models.Exists(stands), models.Exists(in_hand))
    return found.order_by("pk")


def _withdrew(unit: "Unit", purpose: str) -> "FamilyQuerySet":
    """Families that ever withdrew a consent: few, and found by an index of their own."""
    from bookings.models import Consent  # noqa: PLC0415 - models import their query sets

    withdrawn = Consent.objects.filter(purpose=purpose, withdrawn_at__isnull=False)
    return unit.families.filter(pk__in=withdrawn.values("family"))


def shows_photos(family: "Family") -> bool:
    """Whether finished casts may be shown: that takes a yes to keeping them too."""
    standing = family.consents.standing().filter(purpose__in=("keep", "show"))
    return standing.count() == 2  # noqa: PLR2004 - one standing yes a purpose


def jobs_without_a_date(unit: "Unit") -> "JobQuerySet":
    """Booked jobs of a unit that wait for another sitting: cancelled, put off or
    with a lost print.
    """
    return unit.jobs.at(Stage.BOOKED).exclude(sittings__state="planned")


def prints_since(unit: "Unit", since: datetime) -> list[learning.Print]:
    """The prints of finished sittings that began after `since`, as facts to learn from. One query."""
    from bookings.models import Impression, Sitting  # noqa: PLC0415 - models import their query sets
    from studio.models import Limb  # noqa: PLC0415

    rows = Impression.objects.filter(
        sitting__unit=unit,
        sitting__state="done",
        sitting__starts_at__gte=since,
        outcome__in=("taken", "not_today"),
    ).values_list(
        *("piece__child__born_on", "piece__limb", "sitting__place", "sitting__starts_at"),
        *("tries", "outcome", "live"),
    )
    return [
        learning.Print(
            age_days=(slots.local_day(starts_at, unit.time_zone) - born_on).days,
            limb=Limb(limb).label,
            place=Sitting.Place(place).label,
            tries=tries,
            put_off=outcome == "not_today",
            lost=outcome == "taken" and not live,
        )
        for born_on, limb, place, starts_at, tries, outcome, live in rows
    ]


def said_since(unit: "Unit", since: datetime) -> list[learning.Said]:
    """What was said of prints, casts and sittings that had to be done again. One query."""
    from studio.models import JobEvent  # noqa: PLC0415 - as above

    again = models.Q(what="log_impression", facts__outcome__in=("repeat", "not_today"))
    others = models.Q(what__in=("lose_impression", "spoil_piece", "cancel_sitting", "book_again"))
    events = JobEvent.objects.filter(again | others, job__unit=unit, at__gte=since)
    return [
        learning.Said(event.job_id, event.what, event.subject_id, _wrong(event), event.why)
        for event in events.oldest_first()
    ]


def _wrong(event: "JobEvent") -> tuple[str, ...]:
    """What was marked as wrong with a print or a cast."""
    from bookings.models import MARKS  # noqa: PLC0415 - as above

    if event.what == "log_impression":
        return tuple(wrong for mark, (_, wrong) in MARKS.items() if event.facts.get(mark) is False)
    if event.what == "spoil_piece":
        return (event_words.read(event.what, event.facts).words({}),)
    return ()


def families_like(enquiry: "Enquiry") -> "FamilyQuerySet":
    """Families that may be the one who asks: the same phone, e-mail or postcode, or the surname."""
    same = models.Q(name__icontains=(enquiry.name.split() or [""])[-1])
    for name in ("phone", "email", "postcode"):
        if value := getattr(enquiry, name):
            same |= models.Q(**{f"{name}__iexact": value})
    return enquiry.unit.families.filter(same).by_name()


def trays_in_use(unit: "Unit") -> set[str]:
    """The numbers of the trays that carry a whole print now. One query."""
    from bookings.models import Impression  # noqa: PLC0415 - models import their query sets

    taken = Impression.objects.taken().filter(
        sitting__unit=unit, piece__job__stage__in=(Stage.BOOKED, Stage.CLAY_REST)
    )
    return set(taken.exclude(tray="").values_list("tray", flat=True))


def next_tray(unit: "Unit") -> str:
    """The lowest number that no tray with a whole print carries, "1" to begin with. One query."""
    used = trays_in_use(unit)
    return next(str(number) for number in count(1) if str(number) not in used)
