"""The Frames room: the six questions of its actions, the drawing, the rack, the range."""

import io
import math
import re
import uuid
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from bookings.sittings.models import ClayPrint
from production.frames import actions, cutting_week, job_frames
from production.frames import page as frames_page
from production.frames.models import CutFrame, Cutting, FrameSpecification, Moulding, Offcut
from studio.stages import ActionRefused, MovedMeanwhile, MoveRefused, Stage
from studio.versions import EditedMeanwhile
from tests import makers
from tests.parts.markup import folded
from tests.production.conftest import sent

pytestmark = pytest.mark.django_db

FRAMES = reverse("production:frames")

CUT = reverse("production:confirm_cutting")


@pytest.fixture
def job(on_rack):
    return on_rack


@pytest.fixture
def by(unit):
    return makers.owner_of(unit)


def test_the_page_draws_the_weeks_rails_and_the_press_writes_them_down(owner, unit, oak, job):
    shown = folded(owner.get(FRAMES).content.decode())
    assert job.first_names in shown
    assert "fewer cannot do" in shown
    page = frames_page.frames_page(unit, timezone.now())
    response = owner.post(CUT, sent(page))
    cutting = Cutting.objects.get()
    assert response.url == cutting.get_absolute_url()
    assert CutFrame.objects.get().job == job
    assert job.events.filter(what="confirm_cutting").count() == 1
    assert job.first_names in folded(owner.get(response.url).content.decode())
    assert not frames_page.frames_page(unit, timezone.now()).frames


def test_offcuts_leave_the_rack_and_what_is_left_goes_back_under_a_new_number(unit, oak, job, by):
    before = {offcut.label: offcut.length_mm for offcut in cutting_week.offcuts_in_rack(oak)}
    cutting = makers.cut(job, by=by)
    after = {offcut.label: offcut.length_mm for offcut in cutting_week.offcuts_in_rack(oak)}
    used = {offcut.label for offcut in cutting.used_offcuts.all()}
    fresh = {offcut.label: offcut.length_mm for offcut in cutting.offcuts.all()}
    assert used
    assert after == {k: v for k, v in before.items() if k not in used} | fresh
    assert not fresh.keys() & before.keys()
    bars = cutting.content["bars"]
    wood = sum(bar["length_mm"] for bar in bars)
    assert wood == cutting.new_bars * oak.stock_mm + sum(before[label] for label in used)
    rails = [s for bar in bars for s in bar["stretches"] if s["kind"] == "rail"]
    assert [rail["number"] for rail in rails] == [1, 2, 3, 4]


def test_the_same_key_twice_is_one_cutting(unit, oak, job, by):
    page = frames_page.frames_page(unit, timezone.now())
    press = {"by": by, "at": timezone.now(), "key": uuid.uuid4()}
    facts = {"moulding": page.moulding, "jobs": [job], "seal": page.week.seal}
    first = actions.confirm_cutting(unit, **facts, **press)
    assert actions.confirm_cutting(unit, **facts, **press) == first
    assert Cutting.objects.count() == CutFrame.objects.count() == 1


def test_a_drawing_that_has_changed_since_is_told_and_nothing_is_written(owner, unit, oak, job):
    page = frames_page.frames_page(unit, timezone.now())
    before = Offcut.objects.count()
    actions.add_offcut(oak, facts={"length_mm": 700}, at=timezone.now(), key=uuid.uuid4())
    assert owner.post(CUT, sent(page)).status_code == 409
    assert Cutting.objects.count() == 0
    assert Offcut.objects.count() == before + 1


def test_a_cutting_without_a_frame_is_refused(owner, unit, oak, job, by):
    page = frames_page.frames_page(unit, timezone.now())
    assert owner.post(CUT, sent(page, jobs=[])).status_code == 409
    with pytest.raises(ActionRefused, match="Tick"):
        actions.confirm_cutting(
            unit, moulding=oak, jobs=[], seal="", by=by, at=timezone.now(), key=uuid.uuid4()
        )


def test_the_doors(owner, helper, stranger, unit, oak, job):
    page = frames_page.frames_page(unit, timezone.now())
    assert owner.get(CUT).status_code == 405
    choose = reverse("production:choose_frame", args=[job.reference])
    assert stranger.get(choose).status_code == 404
    assert stranger.post(CUT, sent(page)).status_code == 409
    assert Cutting.objects.count() == 0
    assert helper.get(FRAMES).status_code == 200
    range_ = reverse("production:frame_range")
    assert helper.get(range_).status_code == 403
    assert helper.post(reverse("production:add_moulding"), {}).status_code == 403
    assert owner.get(range_).status_code == 200
    assert helper.post(CUT, sent(page)).status_code == 302


def test_only_the_ticked_frames_are_cut_and_on_paper(owner, unit, oak, job):
    other = makers.job_at(Stage.FRAMING, unit)
    response = owner.get(FRAMES, {"asked": 1, "jobs": [job.reference]})
    week = response.context["week"]
    assert [frame.reference for frame in week.frames] == [job.reference]
    assert {frame.reference for frame in response.context["page"].frames} == {
        job.reference,
        other.reference,
    }
    pdf = owner.get(reverse("production:cutting_paper"), {"asked": 1, "jobs": [job.reference]})
    pages = PdfReader(io.BytesIO(pdf.content)).pages
    words = " ".join(" ".join(page.extract_text().split()) for page in pages)
    # By its number a line is found in the drawing: of the four rails, of the board, of the glass.
    assert re.findall(r"☐ (\d)\. \d+ mm", words) == ["1", "2", "3", "4"]
    assert len(re.findall(r"\b1\. \d+ × \d+ mm", words)) == 2
    assert len(re.findall(r"☐ 1\. (?:upright|level) at \d+, 0 to \d+", words)) == 2
    assert owner.get(reverse("production:cutting_paper"), {"asked": 1}).status_code == 409


def test_labels_of_the_rack(owner, unit, oak, job, by):
    cutting = makers.cut(job, by=by)
    labels = reverse("production:offcut_labels", args=[cutting.pk])
    expected = b"%PDF" if cutting.offcuts.exists() else b"<!doc"
    assert owner.get(labels).content[:4] == expected[:4]
    one = cutting_week.offcuts_in_rack(oak)[0]
    label = owner.get(reverse("production:offcut_label", args=[one.pk]))
    assert label.content.startswith(b"%PDF")


def test_an_offcut_is_racked_and_thrown_away(owner, unit, oak):
    add = reverse("production:add_offcut")
    facts = {"key": str(uuid.uuid4()), "moulding": oak.pk, "length_mm": 777}
    assert owner.post(add, facts | {"defect_from_mm": 100}).status_code == 422
    for _ in range(2):
        assert owner.post(add, facts).status_code == 302
    racked = Offcut.objects.get(length_mm=777)
    away = reverse("production:throw_away_offcut", args=[racked.pk])
    assert owner.get(away).status_code == 405
    owner.post(away, {"key": str(uuid.uuid4())})
    racked.refresh_from_db()
    assert racked.gone_at


def test_a_frame_is_chosen_by_the_owner_until_its_rails_are_cut(owner, unit, oak, job, by):
    choose = reverse("production:choose_frame", args=[job.reference])
    facts = {"key": str(uuid.uuid4()), "version": 1, "width_mm": 400, "matched": "on"}
    assert owner.post(choose, facts).status_code == 422
    assert owner.post(choose, facts | {"height_mm": 300}).status_code == 302
    frame = job_frames.frame_of(_fresh(job), timezone.localdate())
    assert (frame.fit.size.width_mm, frame.fit.size.height_mm) == (400, 300)
    assert frame.matched
    assert job.events.filter(what="choose_frame").count() == 1
    with pytest.raises(EditedMeanwhile):
        actions.choose_frame(job, facts={"plate": False}, seen_version=1, **press_of(by))
    makers.cut(job, by=by)
    version = FrameSpecification.objects.get().version
    with pytest.raises(MoveRefused, match="are cut"):
        actions.choose_frame(job, facts={"plate": False}, seen_version=version, **press_of(by))


def press_of(by):
    return {"by": by, "at": timezone.now(), "key": uuid.uuid4()}


def _fresh(job):
    return type(job).objects.get(pk=job.pk)


def test_what_somebody_wrote_while_one_waited_for_the_job_is_seen(unit, oak, job, by, monkeypatch):
    page, held = frames_page.frames_page(unit, timezone.now()), actions.lock_job

    def after_the_other(wanted):
        FrameSpecification.objects.create(job=wanted, width_mm=300, height_mm=300)
        return held(wanted)

    monkeypatch.setattr(actions, "lock_job", after_the_other)
    facts = {"moulding": oak, "jobs": [job], "seal": page.week.seal}
    with pytest.raises(MovedMeanwhile):
        actions.confirm_cutting(unit, **facts, **press_of(by))
    assert not Cutting.objects.exists()


def test_the_range_is_written_by_its_forms(owner, unit, oak):
    add = reverse("production:add_frame_size")
    facts = {"key": str(uuid.uuid4()), "name": "Tiny", "width_mm": 120, "height_mm": 150}
    assert owner.post(add, facts | {"width_mm": 1}).status_code == 422
    assert owner.post(add, facts).status_code == 302
    assert owner.post(add, facts).status_code == 422
    tiny = unit.frame_sizes.get(name="Tiny")
    drop = reverse("production:drop_frame_size", args=[tiny.pk])
    owner.post(drop, {"key": str(uuid.uuid4())})
    assert not unit.frame_sizes.filter(name="Tiny").exists()
    edit = reverse("production:edit_frame_habits")
    initial = owner.get(edit).context["form"].initial
    shown = {name: value for name, value in initial.items() if value is not None}
    assert owner.post(edit, shown | {"version": 1, "edge_mm": 33}).status_code == 302
    assert unit.frame_habits.edge_mm == 33
    assert owner.post(edit, shown | {"version": 1, "edge_mm": 44}).status_code == 409


def test_a_moulding_must_have_wood_round_its_rebate_and_a_name_of_its_own(owner, unit, oak):
    facts = {
        "version": 1,
        "name": "Thin",
        "face_mm": 20,
        "height_mm": 20,
        "rebate_mm": 8,
        "rebate_depth_mm": 12,
        "allowance_mm": 3,
        "loss_mm": 5,
        "stock_mm": 3000,
    }
    add = reverse("production:add_moulding")
    assert owner.post(add, facts | {"rebate_mm": 20}).status_code == 422
    assert owner.post(add, facts | {"name": oak.name}).status_code == 422
    assert owner.post(add, facts).status_code == 302
    thin = Moulding.objects.get(name="Thin")
    retire = reverse("production:retire_moulding", args=[oak.pk])
    assert owner.post(retire, {"key": str(uuid.uuid4())}).status_code == 409
    assert (
        owner.post(
            reverse("production:retire_moulding", args=[thin.pk]), {"key": str(uuid.uuid4())}
        ).status_code
        == 302
    )
    assert not unit.mouldings.filter(name="Thin", retired_at=None).exists()


def test_a_moulding_stays_while_a_frame_is_to_be_cut_of_it(unit, oak, job, by):
    """Else its frame would be on no list of what is to be cut."""
    thin = actions.add_moulding(
        unit,
        facts={
            "name": "Thin",
            "face_mm": 20,
            "height_mm": 40,
            "rebate_mm": 8,
            "rebate_depth_mm": 28,
        },
    )
    at = timezone.now()

    def choose(moulding, version):
        facts = {"moulding": moulding, "width_mm": None, "height_mm": None}
        actions.choose_frame(job, facts=facts, seen_version=version, **press_of(by))

    choose(thin, 1)
    with pytest.raises(ActionRefused, match=job.display_reference):
        actions.retire_moulding(thin, at=at)
    choose(oak, 2)
    actions.retire_moulding(thin, at=at)
    with pytest.raises(ActionRefused, match="no longer used"):
        choose(thin, 3)
    assert [frame.job for frame in frames_page.frames_page(unit, at).frames] == [job]


def test_without_a_moulding_the_page_says_how_to_begin(owner, helper, job):
    assert "Add a moulding" in folded(owner.get(FRAMES).content.decode())
    assert "Add a moulding" not in folded(helper.get(FRAMES).content.decode())
    assert "Describe your mouldings" in folded(owner.get(job.get_absolute_url()).content.decode())


def test_the_jobs_page_shows_the_frame_to_scale_with_its_dimensions(owner, oak, job):
    shown = folded(owner.get(job.get_absolute_url()).content.decode())
    frame = job_frames.frame_of(job, timezone.localdate())
    proof = frame.proof()
    assert f'viewBox="{proof.measured_view}"' in shown
    assert f"{frame.moulding_mm} mm of moulding" in shown
    assert "cot" in shown
    assert [limb.name.split(", ")[1] for limb in proof.limbs] == ["left hand", "right hand"]
    assert proof.limbs[0].slab.right_mm < proof.limbs[1].slab.x_mm
    for limb in proof.limbs:
        assert limb.slab.x_mm >= proof.opening.x_mm
        assert limb.slab.bottom_mm <= proof.opening.bottom_mm
    assert "From left to right: Ada, left hand, Ada, right hand" in proof.words


def test_the_frames_page_tells_all_that_the_bench_needs_of_it(owner, unit, oak, job, by):
    page = reverse("production:choose_frame", args=[job.reference])
    frame = job_frames.frame_of(job, timezone.localdate())
    proof = frame.proof()
    shown = folded(owner.get(page).content.decode())
    across, upright = frame.rails_mm
    for told in (
        f'viewBox="{proof.measured_view}"',
        f">{proof.width_mm:.0f} mm</text>",
        f">{proof.height_mm:.0f} mm</text>",
        f"2 × {across} and 2 × {upright} mm, mitred",
        f"both diagonals are {math.hypot(across, upright):.0f} mm",
        f"{frame.board_mm[0]} × {frame.board_mm[1]} mm each",
        f"spacer {frame.stack.spacer_mm:.0f} mm",
        f"{frame.tape_mm} mm of tape",
        "2 fixings, each good for",
        "Never above a cot",
        "Draw this frame",
    ):
        assert told in shown
    for laid in frame.fit.layout.casts:
        box = laid.box
        lies = f"{box.x_mm:.0f} from the left and {box.y_mm:.0f} from the top"
        assert f"{laid.cast.name}: {box.width_mm:.0f} × {box.height_mm:.0f} mm, {lies}" in shown
    assert page in folded(owner.get(FRAMES).content.decode())
    makers.cut(job, by=by)
    shown = folded(owner.get(page).content.decode())
    assert "The rails are cut" in shown
    assert "Draw this frame" not in shown


def measure(job, length_mm):
    ClayPrint.objects.filter(piece__job=job).update(length_mm=length_mm, taken_at=timezone.now())


def opening_of(job):
    frame = job_frames.frame_of(_fresh(job), timezone.localdate())
    return frame.fit.layout.casts[0].box.height_mm - 2 * frame.border_mm


def test_a_cast_is_laid_as_long_as_its_print_was_measured(unit, oak, job):
    assert opening_of(job) != 71
    measure(job, 71)
    assert opening_of(job) == 71


def test_unmeasured_casts_are_laid_by_what_the_units_own_prints_tell(unit, oak, job):
    before = opening_of(job)
    for _ in range(4):
        measure(makers.job_at(Stage.CLAY_REST, unit), 84)
    assert opening_of(job) > before
    elsewhere = makers.a_unit("Elsewhere")
    makers.frame_range(elsewhere)
    assert opening_of(makers.job_at(Stage.DRYING, elsewhere)) == before


def test_the_units_prints_are_read_once_for_all_its_frames(unit, oak, constant_queries):
    def ready():
        measure(makers.job_at(Stage.DRYING, unit), 75)

    ready()
    constant_queries(
        lambda: job_frames.frames_to_cut(unit, timezone.now(), job_frames.frame_range(unit)),
        lambda: [ready() for _ in range(3)],
    )


def test_called_off_jobs_have_no_frame_and_old_ones_stay_off_the_page(owner, unit, oak):
    gone = makers.job_at(Stage.CALLED_OFF, unit)
    assert 'id="frame"' not in folded(owner.get(gone.get_absolute_url()).content.decode())
    assert not frames_page.frames_page(unit, timezone.now() + timedelta(days=1)).frames
