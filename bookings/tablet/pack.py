"""The diary's part of the tablet's offline pack: the sittings ahead with families, children, prints and consents."""

from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

from django.db.models import Count, Q

from bookings import times
from bookings.consent import wording
from bookings.consent.models import Consent
from bookings.photos.models import Photo
from bookings.sittings import screens
from bookings.sittings.forms import FinishForm
from bookings.sittings.models import MARKS, ClayPrint, Sitting
from bookings.sittings.prints import trays_in_use
from studio import units
from studio.accounts.models import Unit
from studio.families.models import Child
from studio.limbs import Limb
from studio.tablet.entries import pack_part, unsettled_by_sitting

DAYS_AHEAD = 7

# Marks of a print by kind of limb, in the order in which they are asked.
MARKS_OF = {"hand": ("flat", "depth"), "foot": ("toes", "depth")}

# Frequent notes on a print, to be tapped instead of typed.
NOTES = (
    "Wriggled",
    "Asleep",
    "Fist, opened in the end",
    "Thumb tucked in",
    "Toes curled",
    "Fed in between",
    "Edge thin",
    "Deep on one side",
    "A crease to smooth out",
    "Clay rather soft",
)


def sittings_to_pack(unit: Unit, now: datetime) -> list[Sitting]:
    """Load the sittings of today and the days ahead, and earlier unfinished ones, in order. Six queries."""
    today = times.local_day(now, unit.time_zone)
    start, end = times.day_bounds(today, unit.time_zone, 1 + DAYS_AHEAD)
    wanted = Q(state=Sitting.State.PLANNED) | Q(starts_at__gte=start)
    found = unit.sittings.in_diary().filter(wanted, starts_at__lt=end)
    return list(
        found.prefetch_related("job__family__children", "job__family__consents").select_related(
            "unit"
        )
    )


@pack_part("visit")
def visit_part(unit: Unit, now: datetime) -> dict[str, Any]:
    """Build the diary's part of the offline pack. Nine queries."""
    sittings = sittings_to_pack(unit, now)
    photos, unsettled = (
        _photos(sittings),
        unsettled_by_sitting(unit, (each.pk for each in sittings)),
    )
    return {
        "cautions": [{"id": name, "text": text} for name, text in screens.named_cautions().items()],
        "wordings": {
            purpose: asked.translated()._asdict() for purpose, asked in wording.WORDINGS.items()
        },
        "outcomes": dict(ClayPrint.Outcome.choices),
        "marks": {
            kind: [{"id": name, "text": MARKS[name][0]} for name in names]
            for kind, names in MARKS_OF.items()
        },
        "notes": NOTES,
        "put_off": dict(FinishForm.base_fields["put_off"].choices),  # type: ignore[attr-defined]
        "trays_used": sorted(trays_in_use(unit)),
        "sittings": [
            _sitting(each, now, photos) | {"unsettled": unsettled.get(each.pk, [])}
            for each in sittings
        ],
    }


def print_facts(clay_print: ClayPrint) -> dict[str, Any]:
    """The current facts of a print in the format of the tablet."""
    return {
        "outcome": clay_print.outcome,
        "tries": clay_print.tries,
        "marks": clay_print.marks,
        "length_mm": clay_print.length_mm,
        "note": clay_print.note,
        "tray": clay_print.tray,
        "version": clay_print.version,
        "said_by": str(clay_print.said_by or ""),
        "said_at": clay_print.said_at.isoformat() if clay_print.said_at else None,
    }


def _sitting(sitting: Sitting, now: datetime, photos: dict[int, int]) -> dict[str, Any]:
    job, family = sitting.job, sitting.job.family
    day = times.local_day(sitting.starts_at, sitting.unit.time_zone)
    on_the_job = [each for each in sitting.prints.all() if not each.piece.left_off_at]
    clay_prints = screens.sort_prints(on_the_job, sitting.unit)
    return {
        "pk": sitting.pk,
        "job": job.reference,
        "spoken": job.display_reference,
        "state": sitting.state,
        "starts_at": sitting.starts_at.isoformat(),
        "ends_at": sitting.ends_at.isoformat(),
        "day": day.isoformat(),
        "place": sitting.place,
        "place_label": sitting.get_place_display(),
        "place_words": sitting.place_words,
        "young_why": sitting.young_why,
        "is_late": sitting.state == Sitting.State.PLANNED and sitting.ends_at < now,
        "family": {
            name: getattr(family, name)
            for name in (
                "pk",
                "name",
                "contact_name",
                "phone",
                "email",
                "address",
                "postcode",
                "note",
            )
        },
        "children": [_child(each, day) for each in family.children.all()],
        "impressions": [_clay_print(each) for each in clay_prints],
        "consents": _consents(family.consents.all()),
        "photos": {
            str(each.piece_id): photos[each.piece_id]
            for each in clay_prints
            if each.piece_id in photos
        },
    }


def _child(child: Child, day: date) -> dict[str, Any]:
    return {
        "pk": child.pk,
        "first_name": child.first_name,
        "born_on": child.born_on.isoformat(),
        "due_on": child.due_on.isoformat() if child.due_on else None,
        "age": units.age(child.born_on, day),
    }


def _clay_print(clay_print: ClayPrint) -> dict[str, Any]:
    piece = clay_print.piece
    return {
        "pk": clay_print.pk,
        "piece": piece.pk,
        "child": piece.child_id,
        "limb": piece.limb,
        "limb_label": piece.get_limb_display(),
        "kind": Limb(piece.limb).kind,
        **print_facts(clay_print),
    }


def _consents(consents: Iterable[Consent]) -> dict[str, Any]:
    in_force = {each.purpose: each for each in consents if each.withdrawn_at is None}
    return {
        purpose: {
            "given_by": in_force[purpose].given_by,
            "given_at": in_force[purpose].given_at.isoformat(),
            "wording_version": in_force[purpose].wording_version,
        }
        if purpose in in_force
        else None
        for purpose in wording.WORDINGS
    }


def _photos(sittings: Iterable[Sitting]) -> dict[int, int]:
    """Count the stored photographs by piece. One query."""
    jobs = [each.job_id for each in sittings]
    counted = Photo.objects.showable().filter(job__in=jobs, piece__isnull=False).order_by()
    return dict(counted.values_list("piece").annotate(count=Count("pk")))
