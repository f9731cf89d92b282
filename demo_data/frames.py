"""Frames of the demo: mouldings, sizes, offcuts and cut frames."""

from datetime import timedelta
from uuid import UUID, uuid5

from demo_data import files
from demo_data.setting import Setting
from production.frames import actions
from production.frames import page as frames_page
from production.frames.models import FrameHabits
from production.stores.actions import edit_material
from studio.accounts.models import Unit
from studio.stages import Stage

NAMESPACE = UUID("c1f7e0de-6a55-4f0c-8d3e-2f7c3b1f9d12")


def set_up(unit: Unit) -> None:
    facts = files.document("unit")
    for moulding in facts["mouldings"]:
        actions.add_moulding(unit, facts=moulding)
    for size in facts["frame_sizes"]:
        actions.add_frame_size(unit, facts=size)


def fill_rack(setting: Setting) -> None:
    """Add offcuts of the first moulding, three weeks old."""
    oak = setting.unit.mouldings.order_by("pk")[0]
    at = setting.clock.now - timedelta(days=21)
    for place, length_mm in enumerate(files.document("unit")["rack"]["offcuts_mm"]):
        key = uuid5(NAMESPACE, f"offcut {place}")
        actions.add_offcut(oak, facts={"length_mm": length_mm}, at=at, key=key)


def cut_begun(setting: Setting) -> None:
    """The rails of the frames that are begun were cut the day before yesterday."""
    unit, at = setting.unit, setting.clock.now - timedelta(days=2)
    begun = unit.jobs.filter(stage=Stage.FRAMING)
    references = list(begun.values_list("reference", flat=True))
    page = frames_page.frames_page(unit, at, ticked=references)
    if page.moulding and page.week:
        actions.confirm_cutting(
            unit,
            moulding=page.moulding,
            jobs=begun,
            seal=page.week.seal,
            by=setting.owner,
            at=at,
            key=uuid5(NAMESPACE, "the frames that are begun"),
        )


def link_stores(setting: Setting) -> None:
    """From now on cuttings take the oak, the boards and the glass, not every frame begun its usual."""
    unit = setting.unit
    linked = files.document("unit")["stores_of_frames"]
    materials = {name: unit.materials.get(name=words) for name, words in linked.items()}
    for each in materials.values():
        edit_material(each, facts={"used_at": "hand", "used_each": 0}, seen_version=each.version)
    oak = unit.mouldings.order_by("pk")[0]
    facts = {"material": materials["moulding"]}
    actions.edit_moulding(oak, facts=facts, seen_version=oak.version)
    sheets = {"board_material": materials["boards"], "glass_material": materials["glass"]}
    version = FrameHabits(unit=unit).version
    actions.edit_frame_habits(unit, facts=sheets, seen_version=version)
