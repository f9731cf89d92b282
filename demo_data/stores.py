"""Stock of the demo: ordered, received, counted and thrown away; the actions of the jobs record what they use."""

from collections.abc import Callable
from datetime import datetime, timedelta
from uuid import uuid5

from demo_data import files
from demo_data.lives import Steps
from demo_data.setting import Setting
from production.stock import quantities
from production.stock.models import Lot, Material
from production.stores import actions
from studio.accounts.models import Unit

Row = dict[str, str]


def stores(setting: Setting) -> Steps:
    """Begin the stock records, then run each line of stores.csv at its time."""
    rows = files.table("stores")
    yield setting.clock.on(setting.clock.day(-int(rows[0]["ago"])), "09:00")
    _materials(setting.unit)
    for number, row in enumerate(rows):
        at = yield setting.clock.on(setting.clock.day(-int(row["ago"])), row["clock"])
        material = setting.unit.materials.get(name=row["material"])
        _HOW[row["what"]](setting, material, row, _Who(setting, number, at))


def _materials(unit: Unit) -> None:
    """Add the usual materials, each with its invented supplier."""
    suppliers = {row["material"]: row for row in files.table("materials")}
    for material in actions.add_usual_materials(unit):
        row = suppliers[material.name]
        facts = {"supplier": row["supplier"], "supplier_code": row["code"]}
        actions.edit_material(material, facts=facts, seen_version=material.version)


class _Who:
    """Who records a line of stores.csv, when, and with which keys."""

    def __init__(self, setting: Setting, number: int, at: datetime) -> None:
        self.by, self.at = setting.owner, at
        self.key = uuid5(setting.namespace, f"line {number} of the stores")
        self.today = setting.clock.local_day(at)


def _receive(setting: Setting, material: Material, row: Row, who: _Who) -> None:
    keeps = timedelta(days=material.keep_days) if material.keep_days else None
    actions.receive(
        material,
        quantity=_quantity(material, row),
        cost_minor=files.pence(row["cost"]) if row["cost"] else None,
        received_on=who.today,
        best_before=who.today + keeps if keeps else None,
        label=row["words"],
        purchase=material.purchases.on_their_way().first(),
        by=who.by,
        at=who.at,
        key=who.key,
    )


def _order(setting: Setting, material: Material, row: Row, who: _Who) -> None:
    actions.order_material(
        material,
        quantity=_quantity(material, row),
        cost_minor=files.pence(row["cost"]),
        ordered_on=who.today,
        expected_on=who.today + timedelta(days=int(row["words"])),
        by=who.by,
        key=who.key,
    )


def _count(setting: Setting, material: Material, row: Row, who: _Who) -> None:
    left = sum(Lot.objects.filter(material=material).values_list("left", flat=True))
    less = quantities.parse(row["quantity"].removeprefix("less "), material.measure)
    counts = [actions.Counted(material, left - less, left)]
    actions.count_stock(setting.unit, counts=counts, by=who.by, at=who.at, key=who.key)


def _scrap(setting: Setting, material: Material, row: Row, who: _Who) -> None:
    lot = Lot.objects.with_some_left().filter(material=material).oldest_first()[0]
    quantity = _quantity(material, row)
    actions.write_off(lot, quantity=quantity, why=row["words"], by=who.by, at=who.at, key=who.key)


def _use(setting: Setting, material: Material, row: Row, who: _Who) -> None:
    quantity = _quantity(material, row)
    actions.use_by_hand(
        material, quantity=quantity, why=row["words"], by=who.by, at=who.at, key=who.key
    )


_HOW: dict[str, Callable[[Setting, Material, Row, _Who], None]] = {
    "receive": _receive,
    "order": _order,
    "count": _count,
    "scrap": _scrap,
    "use": _use,
}


def _quantity(material: Material, row: Row) -> int:
    return quantities.parse(row["quantity"], material.measure, material.pack)
