"""What a family’s consents allow: making casts, keeping photographs, showing them."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db import models

from bookings.consent.models import Consent
from studio.accounts.models import Unit
from studio.families.models import Family
from studio.families.querysets import FamilyQuerySet
from studio.jobs.models import Job
from studio.jobs.querysets import JobQuerySet

MAKE, KEEP, SHOW = Consent.Purpose.MAKE, Consent.Purpose.KEEP, Consent.Purpose.SHOW


@dataclass(frozen=True, slots=True)
class ConsentState:
    """What the job page shows of a family's consent."""

    may_keep_photos: bool
    casts_withdrawn: bool


def may_make_casts(family: Family) -> bool:
    """Whether the family's consent to prints and casts is in force."""
    return family.consents.in_force().filter(purpose=MAKE).exists()


def may_keep_photos(family: Family) -> bool:
    """Whether the family's consent to keeping photographs is in force."""
    return family.consents.in_force().filter(purpose=KEEP).exists()


def may_show_photos(family: Family) -> bool:
    """Whether photographs of finished casts may be shown: this needs the consent to keep them as well."""
    given = set(family.consents.in_force().values_list("purpose", flat=True))
    return {KEEP, SHOW} <= given


def consent_state(family: Family) -> ConsentState:
    """Return both facts of `ConsentState` in one query."""
    rows = list(family.consents.values_list("purpose", "withdrawn_at"))
    in_force = {purpose for purpose, withdrawn_at in rows if withdrawn_at is None}
    return ConsentState(
        may_keep_photos=KEEP in in_force,
        casts_withdrawn=MAKE in {purpose for purpose, _ in rows} - in_force,
    )


def families_without_consent(jobs: Sequence[Job] | JobQuerySet) -> list[Family]:
    """List the families of these jobs that withdrew their consent to the casts. One query.

    A family that was never asked is not among them.
    """
    consents = Consent.objects.filter(family__jobs__in=jobs, purpose=MAKE)
    in_force: dict[Family, bool] = {}
    for consent in consents.select_related("family").order_by("family_id").distinct():
        given = consent.withdrawn_at is None
        in_force[consent.family] = in_force.get(consent.family, False) or given
    return [family for family, given in in_force.items() if not given]


def open_families_without_consent(unit: Unit) -> FamilyQuerySet:
    """Select the families with an open job that withdrew their consent to the casts. One query."""
    in_force = Consent.objects.in_force().filter(purpose=MAKE, family=models.OuterRef("pk"))
    open_jobs = Job.objects.open().filter(family=models.OuterRef("pk"))
    withdrew = families_that_withdrew(unit, MAKE)
    return withdrew.filter(~models.Exists(in_force), models.Exists(open_jobs)).order_by("pk")


def families_that_withdrew(unit: Unit, purpose: str) -> FamilyQuerySet:
    """Select the families that ever withdrew a consent, given again since or not.

    These are few, and the index `consent_taken_back` finds them.
    """
    withdrawn = Consent.objects.filter(purpose=purpose, withdrawn_at__isnull=False)
    return unit.families.filter(pk__in=withdrawn.values("family"))
