"""What a cutting takes from the stores, who bears it, and what the stores know of the frames ahead."""

import uuid

import pytest
from django.urls import reverse
from django.utils import timezone

from production.frames import actions, job_frames, materials
from production.frames import page as frames_page
from production.frames.models import CutFrame, Cutting
from production.stock.costs import material_costs
from production.stock.models import StockMove
from production.stores import actions as stores
from production.stores import stock_status
from studio.stages import Stage
from tests import makers
from tests.parts.markup import folded
from tests.production.conftest import sent
from tests.production.stores.conftest import delivery, stock
from tests.working import planned

pytestmark = pytest.mark.django_db


def status_of(material):
    """The status of a material as it is in the database now."""
    read = material.unit.materials.with_stock().get(pk=material.pk)
    return stock_status.stock_status_of(read, timezone.now())


FRAMES = reverse("production:frames")

CUT = reverse("production:confirm_cutting")


@pytest.fixture
def job(on_rack):
    return on_rack


@pytest.fixture
def by(unit):
    return makers.owner_of(unit)


def in_the_stores(unit, moulding, **held):
    """Oak, boards and glass that cuttings take from; so much of each in the books, at a penny a unit."""
    kinds = {"oak": ("moulding", "mm"), "boards": ("board", "mm2"), "glass": ("glazing", "mm2")}
    made = {
        name: stores.add_material(
            unit,
            facts={
                "kind": kind,
                "name": f"{name} by hand",
                "measure": measure,
                "used_at": "hand",
                "pack": 3000 if measure == "mm" else 744_200,
            },
        )
        for name, (kind, measure) in kinds.items()
    }
    for name, quantity in held.items():
        delivery(made[name], quantity, quantity)
    actions.edit_moulding(moulding, facts={"material": made["oak"]}, seen_version=moulding.version)
    actions.edit_frame_habits(
        unit,
        facts={"board_material": made["boards"], "glass_material": made["glass"]},
        seen_version=1,
    )
    moulding.offcuts.update(gone_at=timezone.now())
    return made


def used(of, job=None):
    lines = StockMove.objects.filter(lot__material=of, what="used")
    lines = lines.filter(job=job) if job else lines
    return -sum(lines.values_list("quantity", flat=True))


def press(unit, jobs, by, **more):
    page = frames_page.frames_page(unit, timezone.now(), ticked=[job.reference for job in jobs])
    facts = {"moulding": page.moulding, "jobs": jobs, "seal": page.week.seal}
    return actions.confirm_cutting(
        unit, **facts, by=by, at=timezone.now(), key=uuid.uuid4(), **more
    )


def test_each_job_bears_the_new_bars_boards_and_glass_by_its_own(unit, oak, job, by):
    made = in_the_stores(unit, oak, oak=9000, boards=800_000, glass=1_000_000)
    single = makers.job_at(Stage.DRYING, unit, pieces=1)
    frames = job_frames.frames_to_cut(unit, timezone.now(), job_frames.frame_range(unit))
    area = {frame.job: frame.board_mm2 for frame in frames}
    rails = {frame.job: 2 * sum(frame.rails_mm) for frame in frames}
    cutting = press(unit, [job, single], by, also=["boards", "glass"])
    bars_mm = cutting.new_bars * 3000
    assert used(made["oak"]) == used(made["oak"], job) + used(made["oak"], single) == bars_mm
    assert used(made["oak"], job) == pytest.approx(
        bars_mm * rails[job] / sum(rails.values()), abs=1
    )
    for name, sheet_mm2 in (("boards", 744_200), ("glass", 912_800)):
        assert sum(area.values()) <= used(made[name]) < sheet_mm2, (
            "what is left stays in the stores"
        )
        assert used(made[name], job) > used(made[name], single) > 0
    cost = sum(used(each, job) for each in made.values())
    assert material_costs([job])[job.pk] == cost
    assert not StockMove.objects.filter(what="found").exists()


def test_what_was_not_cut_with_the_rails_is_not_taken(unit, oak, job, by):
    made = in_the_stores(unit, oak, oak=3000, boards=800_000, glass=1_000_000)
    press(unit, [job], by, also=["boards"])
    assert used(made["boards"]) > used(made["glass"]) == 0


def test_what_a_frame_begun_takes_by_itself_no_cutting_takes(unit, oak, job, by):
    made = in_the_stores(unit, oak, oak=3000)
    facts = {"used_at": "frame", "used_each": 1400}
    stores.edit_material(made["oak"], facts=facts, seen_version=1)
    press(unit, [job], by)
    assert used(made["oak"]) == 0


def test_a_shortage_is_told_at_the_press_and_nothing_is_written_unseen(owner, unit, oak, job, by):
    made = in_the_stores(unit, oak, oak=500, boards=1000)
    page = frames_page.frames_page(unit, timezone.now())
    unseen = owner.post(CUT, sent(page))
    assert unseen.status_code == 409
    told = "1 bar of oak by hand short: the stores hold 500 mm, this cutting takes 1 bar."
    assert told in folded(unseen.content.decode())
    assert Cutting.objects.count() == CutFrame.objects.count() == 0
    assert not StockMove.objects.exclude(what="received").exists()
    shown = folded(owner.get(FRAMES).content.decode())
    assert told in shown
    assert "of boards by hand short" in shown
    assert "They are cut all the same" in shown
    assert owner.post(CUT, sent(page, beyond="yes")).status_code == 302
    found = StockMove.objects.get(what="found")
    assert (found.quantity, found.lot.material) == (2500, made["oak"])
    assert "count it" in found.why
    assert stock(made["oak"]) == 0


def test_enough_in_the_stores_is_no_shortage(owner, unit, oak, job):
    in_the_stores(unit, oak, oak=3000, boards=800_000, glass=1_000_000)
    shown = folded(owner.get(FRAMES).content.decode())
    assert "These rails are cut" in shown
    assert "short:" not in shown
    assert shown.count('name="also"') == 2


def test_the_purchase_list_knows_what_the_frames_ahead_will_be_cut_of(owner, unit, oak, job):
    made = in_the_stores(unit, oak, oak=100, boards=100, glass=100)
    booked = makers.job_at(Stage.BOOKED, unit)
    planned(unit)
    frame = job_frames.frame_of(job, timezone.localdate())
    jobs = list(unit.jobs.open())
    per_job = materials.cut_ahead(unit, jobs, made.values(), timezone.localdate()).needs
    assert per_job.keys() == {job.reference, booked.reference}
    assert per_job[job.reference] == {
        made["oak"].pk: frame.moulding_mm,
        made["boards"].pk: frame.board_mm2,
        made["glass"].pk: frame.board_mm2,
    }
    for each in made.values():
        now = status_of(each)
        needed = sum(of[each.pk] for of in per_job.values())
        assert now.levels[-1] <= 100 - needed
        assert now.outlook.order_by
        assert "each cutting, as it is drawn" in folded(
            owner.get(each.get_absolute_url()).content.decode()
        )
    shown = folded(owner.get(reverse("production:purchases")).content.decode())
    assert all(str(each) in shown for each in made.values())


def test_the_reads_of_the_shelf_do_not_grow_with_the_frames_ahead(unit, oak, job, constant_queries):
    in_the_stores(unit, oak, oak=100, boards=100, glass=100)
    makers.job_at(Stage.BOOKED, unit)  # one of each kind: one poured, one that is not
    constant_queries(
        lambda: stock_status.stock_statuses(unit, timezone.now()),
        lambda: [makers.job_at(stage, unit) for stage in (Stage.BOOKED, Stage.CLAY_REST)],
    )


def test_the_habits_link_only_what_is_used_by_hand(owner, unit, oak):
    by_hand, of_frames = (
        stores.add_material(
            unit,
            facts={
                "kind": "board",
                "name": f"Board {moment}",
                "measure": "mm2",
                "used_at": moment,
                "used_each": 0 if moment == "hand" else 90_000,
                "pack": 1,
            },
        )
        for moment in ("hand", "frame")
    )
    edit = reverse("production:edit_frame_habits")
    form = owner.get(edit).context["form"]
    assert list(form.fields["board_material"].queryset) == [by_hand]
    initial = {name: value for name, value in form.initial.items() if value is not None}
    assert owner.post(edit, initial | {"board_material": of_frames.pk}).status_code == 422
    assert owner.post(edit, initial | {"board_material": by_hand.pk}).status_code == 302
    assert f"in the stores as {by_hand}" in folded(
        owner.get(reverse("production:frame_range")).content.decode()
    )
