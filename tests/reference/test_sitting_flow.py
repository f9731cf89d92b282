"""The way through a sitting: what the tablet decides without a signal, the server decides alike.

The vectors are in sitting_flow.json, rules of this house [trade, no source]; the tablet runs them
in tests/browser/test_tablet_flow.py. Exact, no tolerance.
"""

import json
from pathlib import Path
from types import SimpleNamespace

import pytest

from bookings.sittings import screens
from bookings.sittings.models import ClayPrint
from bookings.sittings.prints import next_tray
from orders.order.totals import deposit_of
from tests import makers

VECTORS = json.loads(Path(__file__).with_name("sitting_flow.json").read_text("utf-8"))


@pytest.mark.parametrize("vector", VECTORS["after"], ids=str)
def test_after_a_limb(vector):
    limbs = [ClayPrint(pk=at + 1, outcome=each) for at, each in enumerate(vector["outcomes"])]
    found = screens.next_screen(limbs, limbs[vector["answered"]])
    assert found == ("summary" if vector["next"] is None else str(limbs[vector["next"]].pk))


@pytest.mark.parametrize("vector", VECTORS["deposits"], ids=str)
def test_deposit(vector):
    unit = SimpleNamespace(
        deposit_percent=vector["percent"], deposit_fixed_minor=vector.get("fixed_minor")
    )
    assert deposit_of(unit, vector["total_minor"]) == vector["deposit_minor"]


@pytest.mark.parametrize("vector", VECTORS["trays"], ids=str)
def test_free_tray(unit, vector):
    makers.prices(unit)
    held = makers.a_job(unit, pieces=4).sittings.get().prints.order_by("pk")
    for clay_print, tray in zip(held, vector["used"], strict=False):
        clay_print.outcome, clay_print.tray, clay_print.taken_at = (
            "taken",
            tray,
            makers.timezone.now(),
        )
        clay_print.save()
    assert next_tray(unit) == vector["free"]
