"""The owner at the bench: ticks by the keyboard, the mix that follows what is ticked, and all without scripts."""

import pytest

from production.casts.models import Weighing
from studio.stages import Stage
from tests import makers

pytestmark = pytest.mark.django_db(transaction=True)


def test_ticks_by_the_keyboard_keep_their_place_and_are_said(open_window, unit, owner):
    job = makers.job_at(Stage.FRAMING, unit)
    window = open_window(owner, width=820)
    window.open("/bench/")
    tick = window.page.locator(f"#tick-{job.reference}-mounted")
    tick.focus()
    window.page.keyboard.press("Enter")
    window.page.wait_for_selector(f"#tick-{job.reference}-mounted[aria-pressed=true]")
    assert window.page.evaluate("document.activeElement.id") == f"tick-{job.reference}-mounted"
    said = window.page.locator("#said")
    assert said.text_content() == "Ada: still to do: glazed, backed, sealed, checked."
    job.frame.refresh_from_db()
    assert job.frame.mounted_at
    window.page.keyboard.press("Space")
    window.page.wait_for_selector(f"#tick-{job.reference}-mounted[aria-pressed=false]")
    job.frame.refresh_from_db()
    assert job.frame.mounted_at is None


def test_the_mix_follows_what_is_ticked(open_window, unit, owner):
    makers.job_at(Stage.CLAY_REST, unit)
    window = open_window(owner, width=820)
    window.open("/bench/pour/")
    plaster = window.page.locator("#id_plaster_g")
    both = int(plaster.input_value())
    window.page.get_by_label("Ada, right hand").uncheck()
    window.page.wait_for_function(
        "both => Number(document.querySelector('#id_plaster_g').value) < both", arg=both
    )
    assert abs(2 * int(plaster.input_value()) - both) <= 1
    window.page.get_by_role("button", name="These pieces are poured").click()
    window.page.wait_for_url("**/bench/")
    assert unit.pours.get().casts.count() == 1


def test_a_pour_and_a_weighing_need_no_script(open_window, unit, owner):
    makers.job_at(Stage.CLAY_REST, unit)
    drying = makers.job_at(Stage.DRYING, unit, pieces=1)
    window = open_window(owner, width=360, java_script_enabled=False)
    window.open("/bench/pour/")
    both = int(window.page.locator("#id_plaster_g").input_value())
    window.page.get_by_label("Ada, right hand").uncheck()
    window.page.get_by_role("button", name="Work the mix out for what is ticked").click()
    assert abs(2 * int(window.page.locator("#id_plaster_g").input_value()) - both) <= 1
    window.page.get_by_role("button", name="These pieces are poured").click()
    assert unit.pours.filter(casts__piece__job__stage=Stage.CLAY_REST).count() == 1
    window.page.get_by_role("link", name="Ada, left hand", exact=True).click()
    window.page.get_by_label("The scale shows").fill("400,5")
    window.page.get_by_role("button", name="Write it down").click()
    assert Weighing.objects.get(cast__piece__job=drying).mass_g == 400.5
