"""The six questions of every press at the bench: works with one event; GET; stranger; not your job;
wrong stage; the same key twice."""

import uuid
from dataclasses import dataclass, field

import pytest
from django.urls import reverse
from django.utils import timezone

from production.bench import framing, weighing
from production.frames.models import Frame
from studio.stages import Stage
from tests import makers
from tests.production.conftest import casts_of, press


@dataclass(frozen=True)
class Press:
    """One thing a person does: at which stage, to what, sending what, leaving which event."""

    name: str
    stage: Stage
    wrong: Stage
    to: str = "cast"
    sends: dict = field(default_factory=dict)
    event: str = ""
    has_page: bool = True

    def target(self, job):
        if self.to == "job":
            return [job.reference]
        if self.to == "unit":
            return []
        cast = casts_of(job)[0]
        return [cast.weighings.first().pk if self.to == "weighing" else cast.pk]

    def data(self, job):
        if self.to == "unit":
            return {**self.sends, "pieces": [piece.pk for piece in job.pieces.all()]}
        return self.sends

    def count(self, job):
        return job.events.filter(what=self.event or self.name).count()


PRESSES = [
    Press("pour", Stage.CLAY_REST, Stage.DRYING, "unit", {"plaster_g": "538", "water_g": "377"}),
    Press("demould", Stage.CASTING, Stage.DRYING, has_page=False),
    Press("place_on_rack", Stage.DRYING, Stage.CASTING, sends={"place": "9"}),
    Press("weigh", Stage.DRYING, Stage.CASTING, sends={"mass_g": "352,5"}),
    Press("strike_weighing", Stage.DRYING, Stage.FRAMING, "weighing", {"why": "another piece"}),
    Press("release_dry", Stage.DRYING, Stage.CASTING, sends={"why": "it rings when tapped"}),
    Press(
        "spoil_piece",
        Stage.DRYING,
        Stage.READY,
        sends={"how": "break", "why": "fell off the rack", "print_whole": "yes"},
    ),
    Press(
        "start_framing",
        Stage.DRYING,
        Stage.CASTING,
        "job",
        {"seen": "drying", "glazed": "yes"},
        "move",
        has_page=False,
    ),
    Press(
        "tick_frame",
        Stage.FRAMING,
        Stage.DRYING,
        "job",
        {"step": "mounted", "done": "yes"},
        has_page=False,
    ),
    Press("make_ready", Stage.FRAMING, Stage.DRYING, "job", {"seen": "framing"}, "move", False),
    Press(
        "reopen_frame",
        Stage.READY,
        Stage.FRAMING,
        "job",
        {"seen": "ready", "why": "a scratch in the glass"},
        "move",
    ),
]

every_press = pytest.mark.parametrize("what", PRESSES, ids=lambda what: what.name)


def job_for(what, unit, stage=None):
    """A job at the stage, as far as this press needs it."""
    job = makers.job_at(stage or what.stage, unit)
    if what.name == "start_framing" and job.stage == Stage.DRYING:
        for cast in casts_of(job):
            release(cast, unit)
    if what.name == "make_ready":
        done = {f"{step}_at": timezone.now() for step in framing.FRAME_STEPS}
        Frame.objects.filter(job=job).update(**done)
    if what.to == "weighing":
        weigh(casts_of(job)[0], unit)
    return job


def release(cast, unit):
    weighing.release_dry(
        cast,
        why="it rings",
        by=makers.owner_of(unit),
        at=timezone.now(),
        key=uuid.uuid4(),
    )


def weigh(cast, unit):
    if cast.weighings.exists():
        return
    weighing.weigh(cast, mass_g=400, by=makers.owner_of(unit), at=timezone.now(), key=uuid.uuid4())


@every_press
def test_it_works_and_leaves_one_event(what, unit, owner):
    job = job_for(what, unit)
    before = what.count(job)
    answer = press(owner, what.name, *what.target(job), **what.data(job))
    assert answer.status_code == 302, answer.content.decode()
    assert what.count(job) - before == 1


@every_press
def test_get_writes_nothing(what, unit, owner):
    job = job_for(what, unit)
    before = job.events.count()
    answer = owner.get(reverse(f"production:{what.name}", args=what.target(job)))
    assert answer.status_code == (200 if what.has_page else 405)
    assert job.events.count() == before


@every_press
def test_a_stranger_finds_nothing(what, unit, stranger):
    job = job_for(what, unit)
    before = job.events.count()
    answer = press(stranger, what.name, *what.target(job), **what.data(job))
    assert answer.status_code == (422 if what.to == "unit" else 404)
    assert job.events.count() == before


@every_press
def test_only_the_owner_releases_and_the_office_does_nothing(what, unit, helper, office):
    job = job_for(what, unit)
    before = job.events.count()
    assert press(office, what.name, *what.target(job), **what.data(job)).status_code == 403
    assert job.events.count() == before
    answer = press(helper, what.name, *what.target(job), **what.data(job))
    assert answer.status_code == (403 if what.name == "release_dry" else 302)


@every_press
def test_at_the_wrong_stage_nothing_changes_and_the_answer_says_why(what, unit, owner):
    job = job_for(what, unit, what.wrong)
    before = job.events.count()
    answer = press(owner, what.name, *what.target(job), **what.data(job))
    job.refresh_from_db()
    assert answer.status_code == 409
    assert (job.stage, job.events.count()) == (what.wrong, before)
    if "seen" in what.sends:
        said = answer.content.decode()
        assert Stage(what.sends["seen"]).label in said, "it names what the person saw"
        assert what.wrong.label in said, "it names what stands now"


@every_press
def test_the_same_key_twice_is_one(what, unit, owner):
    job = job_for(what, unit)
    key, target = uuid.uuid4(), what.target(job)
    first = press(owner, what.name, *target, key=key, **what.data(job))
    events = job.events.count()
    second = press(owner, what.name, *target, key=key, **what.data(job))
    assert (first.status_code, second.status_code) == (302, 302)
    assert job.events.count() == events


@every_press
def test_a_press_without_its_key_is_refused_with_a_sentence(what, unit, owner):
    job = job_for(what, unit)
    before = job.events.count()
    url = reverse(f"production:{what.name}", args=what.target(job))
    answer = owner.post(url, what.data(job))
    assert answer.status_code in (409, 422)
    assert "without its key" in answer.content.decode()
    assert job.events.count() == before
