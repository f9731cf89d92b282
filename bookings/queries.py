"""Reads of enquiries, the diary, impressions, consent and photographs."""

from datetime import datetime
from itertools import count
from typing import TYPE_CHECKING, Self

from django.db import models

from studio.stages import OPEN, Stage

if TYPE_CHECKING:
    from bookings.models import Consent, Enquiry, Impression, Photo, Sitting  # noqa: F401
    from studio.models import Family, Job, Unit
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
        return self.filter(
            job__family__consents__purpose="keep", job__family__consents__withdrawn_at=None
        ).distinct()


def impressed_pieces(job: "Job") -> "PieceQuerySet":
    """The job's pieces whose print is taken and whole."""
    return job.pieces.on_the_job().filter(impressions__live=True, impressions__outcome="taken")


def keeps_photos(family: "Family") -> bool:
    """Whether the family's yes to keeping photographs stands."""
    return family.consents.standing().filter(purpose="keep").exists()


def shows_photos(family: "Family") -> bool:
    """Whether finished casts may be shown: that takes a yes to keeping them too."""
    standing = family.consents.standing().filter(purpose__in=("keep", "show"))
    return standing.count() == 2  # noqa: PLR2004 - one standing yes a purpose


def jobs_without_a_date(unit: "Unit") -> "JobQuerySet":
    """Booked jobs that wait for another sitting: cancelled, put off or with a lost print."""
    return unit.jobs.at(Stage.BOOKED).exclude(sittings__state="planned")


def families_like(enquiry: "Enquiry") -> "FamilyQuerySet":
    """Families that may be the one who asks: the same phone, e-mail or postcode, or the surname."""
    same = models.Q(name__icontains=(enquiry.name.split() or [""])[-1])
    for name in ("phone", "email", "postcode"):
        if value := getattr(enquiry, name):
            same |= models.Q(**{f"{name}__iexact": value})
    return enquiry.unit.families.filter(same).by_name()


def next_tray(unit: "Unit") -> str:
    """The lowest number that no tray with a whole print carries, "1" to begin with. One query."""
    from bookings.models import Impression  # noqa: PLC0415 - models import their query sets

    used = set(
        Impression.objects.taken()
        .filter(sitting__unit=unit, piece__job__stage__in=(Stage.BOOKED, Stage.CLAY_REST))
        .values_list("tray", flat=True)
    )
    return next(str(number) for number in count(1) if str(number) not in used)
