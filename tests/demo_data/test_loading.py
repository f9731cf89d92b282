"""Loading: at any moment, into an empty database only, all of it or nothing."""

import io
from datetime import UTC, datetime

import pytest
from django.core.management import call_command
from django.utils import timezone

from demo_data import files
from demo_data.lives import Steps
from demo_data.loading import load, run
from studio.jobs.models import Job
from studio.stages import Stage
from tests.demo_data.conftest import WEDNESDAY, counts
from tests.proofs.whole import IS_WHOLE

SUNDAY = 6
MOMENTS = [
    datetime(2026, 10, 25, 19, 0, tzinfo=UTC),  # the Sunday on which the clocks went back
    datetime(2026, 11, 23, 0, 20, tzinfo=UTC),  # a Monday, just after midnight
    datetime(2028, 3, 27, 7, 0, tzinfo=UTC),  # the day after they went forward, in a leap year
]


@pytest.mark.parametrize("now", MOMENTS if IS_WHOLE else MOMENTS[:1], ids=str)
@pytest.mark.any_database
def test_it_stands_at_any_moment(db, small_photos, now):
    unit = load(now, lambda line: None)
    today = timezone.localdate(now)
    assert unit.jobs.count() >= 55
    assert all(unit.jobs.at(stage).exists() for stage in Stage)
    assert unit.jobs.late_on(today).count() == 2
    starts = [timezone.localtime(sitting.starts_at) for sitting in unit.sittings.all()]
    assert SUNDAY not in {start.weekday() for start in starts}
    hours = {start.hour for start in starts}
    assert hours <= {9, 10, 11, 12, 13, 14, 16}, "clear of the school run"
    ahead = {(start.date() - today).days for start in starts}
    assert (1 if today.weekday() == SUNDAY else 0) in ahead
    assert any(7 <= days <= 9 for days in ahead)


@pytest.mark.any_database
def test_the_command_says_what_it_loads(db, small_photos):
    out = io.StringIO()
    call_command("load_demo", stdout=out)
    assert "14 drying" in out.getvalue()
    assert Job.objects.filter(opened_at__lt=timezone.now()).count() >= 55


def test_loading_is_all_or_nothing(db, small_photos, monkeypatch):
    def broken(*args, **kwargs):
        raise RuntimeError("the lamp fell over")

    monkeypatch.setattr("demo_data.loading.run", broken)
    with pytest.raises(RuntimeError):
        load(WEDNESDAY, lambda line: None)
    assert not any(counts().values())


def test_lives_run_side_by_side_in_the_order_of_time_and_stop_at_the_present():
    told = []

    def life(name: str, *hours: int) -> Steps:
        for hour in hours:
            at = yield WEDNESDAY.replace(hour=hour)
            told.append((name, at.hour))

    run([life("a", 1, 5, 3, 23), life("b", 2, 4), life("nobody")], WEDNESDAY)
    assert told == [("a", 1), ("b", 2), ("b", 4), ("a", 5), ("a", 5)]


def test_a_story_of_no_job_is_refused(monkeypatch):
    monkeypatch.setattr(files, "document", lambda name: {"nobody": {}})
    with pytest.raises(ValueError, match="No such job: nobody"):
        files.jobs()
