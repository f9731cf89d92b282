"""The weekly sheet, read back from the PDF: references, grams, boxes, lateness, first names only."""

import io
import re
import subprocess
import uuid
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace

import pikepdf
import pytest
from django.urls import reverse
from django.utils import timezone

from production.bench import actions, framing, weighing
from production.casts import mixes as casts_mixes
from production.weekly_sheet import paper
from studio import units
from studio.jobs.models import Job
from studio.stages import Stage
from tests import makers
from tests.production.conftest import casts_of
from tests.working import planned, work_off

# A Tuesday at noon; what is made "now" is then in the middle of its week.
NOW = datetime(2026, 12, 1, 12, tzinfo=UTC)

WEEK = units.parse_week("2026-W49")


def text_of(pdf):
    """What a person reads, in lines."""
    found = subprocess.run(
        ["pdftotext", "-layout", "-", "-"],  # noqa: S607
        input=pdf,
        capture_output=True,
        check=True,
    )
    return found.stdout.decode()


def read(unit, days=WEEK, now=NOW):
    planned(unit, now)
    return text_of(paper.weekly_sheet(unit, days, now))


def day_of(text, name):
    """The lines that stand under one day's heading."""
    days = [units.day(day) for day in WEEK]
    after = text.split(f"\n{name}", 1)[1]
    ends = [at for day in days if (at := after.find(f"\n{day}")) >= 0]
    return after[: min(ends)] if ends else after


@pytest.fixture
def by(owner):
    return owner.user


def sat(unit, hours_ago, pieces=2):
    """A job whose sitting began so long before NOW, its prints in the clay."""
    starts_at = NOW - timedelta(hours=hours_ago)
    job = makers.a_job(unit, pieces=pieces, at=starts_at - timedelta(days=3), starts_at=starts_at)
    makers.take_prints(job, makers.owner_of(unit), starts_at)
    job.refresh_from_db()
    return job


def pour(job, by, hours_ago):
    actions.pour(
        job.unit,
        pieces=list(job.pieces.all()),
        plaster_g=400,
        water_g=280,
        consistency=70,
        by=by,
        at=NOW - timedelta(hours=hours_ago),
        key=uuid.uuid4(),
    )


def demould(job, by, hours_ago):
    for cast in casts_of(job):
        at = NOW - timedelta(hours=hours_ago)
        actions.demould(cast, by=by, at=at, key=uuid.uuid4())


def weigh(cast, by, mass_g, hours_ago):
    at = NOW - timedelta(hours=hours_ago)
    weighing.weigh(cast, mass_g=mass_g, by=by, at=at, key=uuid.uuid4())


def test_a_pour_stands_with_its_grams_its_hour_and_a_box_for_each_piece(unit):
    job = sat(unit, 3)
    mixes = [
        casts_mixes.mix_of(piece, casts_mixes.mixing_of(unit), timezone.localdate(NOW))
        for piece in job.pieces.all()
    ]
    today = day_of(read(unit), "Tue 1 Dec")
    row = next(line for line in today.splitlines() if line.startswith("Pour"))
    assert job.display_reference in row
    assert "Ada" in row
    assert units.day(job.promised_on) in row
    for mix, limb in zip(mixes, ("left hand", "right hand"), strict=True):
        assert f"☐ {mix.plaster_g:.0f} + {mix.water_g:.0f} g {limb}" in row
    assert "pour by Wed 2 Dec, 09:00" in today
    plaster_g, water_g = sum(m.plaster_g for m in mixes), sum(m.water_g for m in mixes)
    assert f"{plaster_g:.0f} g plaster + {water_g:.0f} g water" in today.splitlines()[0]


def test_late_work_stands_on_the_first_open_day_with_its_reason(unit):
    job = sat(unit, 50)
    today = day_of(read(unit), "Tue 1 Dec")
    assert job.display_reference in today
    assert "LATE: the clay was to be poured by Mon 30 Nov, 10:00" in today


def test_the_way_of_a_piece_is_spread_over_its_days(unit, by):
    job = sat(unit, 26)
    pour(job, by, 20)
    demould(job, by, 16)
    first, _ = casts_of(job)
    weigh(first, by, 230, 16)
    text = read(unit)
    assert job.display_reference not in day_of(text, "Wed 2 Dec")
    assert "☐ _______ g right hand 2:" in day_of(text, "Thu 3 Dec")
    assert "☐ _______ g left hand 1: 230" in day_of(text, "Fri 4 Dec")
    today = day_of(text, "Tue 1 Dec")
    assert "LATE: due Mon 30 Nov, never weighed" in today
    assert "left hand" not in today
    next_week = read(unit, units.parse_week("2026-W50"))
    assert job.display_reference in next_week
    assert "☐ mounted ☐ glazed/open ☐ backed ☐ sealed ☐ checked" in next_week


def test_a_demoulding_has_room_for_the_fresh_weight(unit, by):
    job = sat(unit, 8)
    pour(job, by, 3)
    today = day_of(read(unit), "Tue 1 Dec")
    row = next(line for line in today.splitlines() if line.startswith("Demould"))
    assert "☐ _______ g left hand" in row
    assert "☐ _______ g right hand" in row


def test_a_frame_shows_the_steps_that_are_done(unit, by):
    job = makers.job_at(Stage.FRAMING, unit, at=NOW)
    framing.tick_frame(job, step="mounted", by=by, at=NOW, key=uuid.uuid4())
    assert "☑ mounted ☐ glazed/open" in day_of(read(unit), "Tue 1 Dec")


def test_a_finished_job_stands_on_the_day_it_was_promised_for(unit):
    job = makers.job_at(Stage.READY, unit, at=NOW)
    week = units.parse_week(units.week_of(job.promised_on))
    text = read(unit, week)
    row = next(line for line in text.splitlines() if line.startswith("Hand over"))
    assert job.display_reference in row
    assert "☐ handed over" in row


def test_a_sitting_of_the_week_leads_to_its_pour(unit):
    job = makers.a_job(unit, at=NOW, starts_at=NOW + timedelta(days=1, hours=2))
    assert job.display_reference in day_of(read(unit), "Wed 2 Dec")


def test_days_gone_by_are_left_out_and_every_other_has_a_free_line(unit):
    text = read(unit)
    assert "\nMon 30 Nov" not in text
    for day in WEEK[1:]:
        assert "☐" in day_of(text, units.day(day))


def test_a_week_that_is_over_says_so(unit):
    sat(unit, 3)
    text = read(unit, units.parse_week("2026-W40"))
    assert "This week is over" in text
    assert "Pour " not in text.replace("Pour only", "")


def test_first_names_only(unit):
    job = sat(unit, 3)
    text = read(unit)
    assert "Ada" in text
    assert job.family.name not in text


def test_the_cautions_stand_on_it(unit):
    text = re.sub(r"\s+", " ", read(unit))
    assert "Plaster never touches skin" in text
    assert "child is away from the table" in text
    assert "maker’s data sheet" in text


def test_a_long_name_stays_in_its_column(unit):
    family = makers.a_family(unit, children=("Maximiliana-Theodora",), now=NOW)
    at = NOW - timedelta(hours=3)
    job = makers.a_job(unit, family=family, at=at - timedelta(days=1), starts_at=at)
    makers.take_prints(job, makers.owner_of(unit), at)
    Job.objects.filter(pk=job.pk).update(reference="WWWWWWWW")
    row = next(line for line in read(unit).splitlines() if line.startswith("Pour"))
    assert re.search(r"WWWW-WWWW +Maximilian… *☐ \d+ \+ \d+ g left hand +☐", row)


def test_it_is_tagged_titled_and_the_same_for_the_same_books(unit):
    sat(unit, 3)
    planned(unit, NOW)
    written = paper.weekly_sheet(unit, WEEK, NOW)
    assert written == paper.weekly_sheet(unit, WEEK, NOW + timedelta(hours=1))
    with pikepdf.open(io.BytesIO(written)) as pdf:
        assert pdf.Root.MarkInfo.Marked
        assert str(pdf.Root.Lang) == "en-GB"
        assert str(pdf.docinfo["/Title"]) == "Bench, week 2026-W49, Hollin Casts"
        assert b"pdfuaid:part" in pdf.Root.Metadata.read_bytes()


def test_many_jobs_run_over_pages_that_carry_their_heading(unit):
    for _ in range(14):
        makers.job_at(Stage.DRYING, unit, at=NOW)
    planned(unit, NOW)
    written = paper.weekly_sheet(unit, WEEK, NOW)
    with pikepdf.open(io.BytesIO(written)) as pdf:
        pages = len(pdf.pages)
    assert pages > 1
    text = text_of(written)
    assert f"1 of {pages}" in text
    assert text.count("\fBench, week 2026-W49") == pages - 1


def test_the_queries_of_the_sheet_do_not_grow(unit, constant_queries):
    makers.job_at(Stage.DRYING, unit, at=NOW)
    constant_queries(
        lambda: paper.sheet_context(unit, WEEK, NOW)["plans"],
        lambda: makers.job_at(Stage.DRYING, unit, at=NOW),
    )


def test_the_page_hands_the_sheet_out_privately(unit, owner, in_clay):
    planned(unit)
    week = units.week_of(timezone.localdate())
    answer = owner.get(reverse("production:weekly_sheet", args=[week]))
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Content-Disposition"] == f'inline; filename="bench-{week}.pdf"'
    assert "no-store" in answer["Cache-Control"]
    assert in_clay.display_reference in text_of(answer.content)


def test_a_stranger_s_sheet_holds_nothing_of_it(stranger, in_clay):
    week = units.week_of(timezone.localdate())
    answer = stranger.get(reverse("production:weekly_sheet", args=[week]))
    assert in_clay.display_reference not in text_of(answer.content)


def test_the_office_has_no_sheet(office):
    week = units.week_of(timezone.localdate())
    assert office.get(reverse("production:weekly_sheet", args=[week])).status_code == 403


def test_a_long_sheet_is_drawn_by_the_worker(unit, owner, monkeypatch):
    job = sat(unit, 30)
    planned(unit, NOW)
    monkeypatch.setattr(timezone, "now", lambda: NOW)
    page, draw = (reverse(f"production:{n}", args=["2026-W49"]) for n in ("week", "print_week"))
    assert draw not in owner.get(page).content.decode()
    monkeypatch.setattr(paper, "LONG_ROWS", 1)
    assert draw in owner.get(page).content.decode()
    key = {"key": str(uuid.uuid4())}
    asked = {owner.post(draw, key)["Location"] for _ in range(2)}
    assert len(asked) == work_off() == 1
    (where,) = asked
    assert "ready to print" in owner.get(where).content.decode()
    written = b"".join(owner.get(f"{where}file/").streaming_content)
    assert job.display_reference in text_of(written)
    assert owner.get(draw).status_code == 405
    assert owner.post(reverse("production:print_week", args=["2026-W99"]), key).status_code == 404


def test_what_is_to_be_ordered_stands_at_the_end(unit, monkeypatch):
    material = SimpleNamespace(name="Casting plaster")
    short = SimpleNamespace(material=material, order_words="2 × sack, 50.00 kg")
    monkeypatch.setattr(paper, "to_order", lambda _: [short])
    text = read(unit)
    assert "Casting plaster: 2 × sack, 50.00 kg" in text
    monkeypatch.setattr(paper, "to_order", lambda _: [])
    assert "Buy" not in read(unit)
