"""What bookings shows on Today, on a job and on a family."""

import io
import uuid
from datetime import timedelta

import pytest
from django.template.loader import render_to_string
from django.urls import reverse

from bookings.consent import actions as consent_actions
from bookings.consent import panels as consent_panels
from bookings.diary import panels as diary_panels
from bookings.enquiries import actions
from bookings.enquiries import panels as enquiries_panels
from bookings.photos import actions as photos_actions
from bookings.photos import cleaning
from bookings.sittings import actions as sittings_actions
from bookings.sittings import panels
from studio.roles import Role
from studio.stages import Stage, move
from tests import makers
from tests.bookings.doing import AT


def drawn(panel):
    return render_to_string(panel.template, {"panel": panel.context})


class TestToday:
    def items(self, unit, now=AT):
        sources = (
            panels.sittings_to_hold,
            enquiries_panels.enquiries_to_answer,
            panels.sittings_to_book_again,
        )
        return [item for source in sources for item in source(unit, Role.OWNER, now)]

    def test_the_sittings_of_the_day_and_no_others(self, doing, unit, sitting):
        doing.book(doing.family(name="Hughes"), days=2)
        assert self.items(unit) == []
        (item,) = self.items(unit, sitting.starts_at - timedelta(hours=9))
        assert (item.group, item.at) == ("sittings", sitting.starts_at)
        assert item.who == "Wren (17 weeks): left hand, right hand"
        assert item.url == reverse("bookings:sitting", args=[sitting.pk])
        assert item.why_late == ""

    def test_a_sitting_over_and_not_finished_is_late_until_it_is(self, doing, unit, sitting):
        late = sitting.ends_at + timedelta(minutes=1)
        (item,) = self.items(unit, late)
        assert "Thu 26 Nov, 10:00" in item.why_late
        for clay_print in sitting.prints.all():
            doing.log(clay_print, "taken")
        doing.finish(sitting)
        assert self.items(unit, late) == []

    def test_the_day_is_the_local_one(self, doing, unit):
        unit.time_zone = "Pacific/Auckland"
        unit.save()
        sitting = doing.book(doing.family(), days=1, hours=-2)  # Thursday 21:00 there
        assert self.items(unit, sitting.starts_at - timedelta(hours=22)) == []
        assert len(self.items(unit, sitting.starts_at - timedelta(hours=20))) == 1

    def test_an_enquiry_is_late_after_two_days(self, unit):
        actions.take_enquiry(
            unit,
            facts={"name": "Priya", "phone": "07700 900456", "source": "web"},
            at=AT,
            key=uuid.uuid4(),
        )
        for hours, why in ((47, ""), (48, "Has waited 2 days for an answer.")):
            (item,) = self.items(unit, AT + timedelta(hours=hours))
            assert (item.group, item.why_late) == ("families", why)

    def test_a_job_without_a_date_waits_to_be_booked_again(self, doing, unit, sitting):
        doing.cancel(sitting)
        (item,) = self.items(unit)
        assert item.title == "Book again: Okafor"
        assert item.url == reverse("bookings:book_again", args=[sitting.job.reference])
        move(sitting.job, seen=Stage.BOOKED, to=Stage.CALLED_OFF, **doing.who())
        assert self.items(unit) == []

    def test_it_reads_the_same_for_one_and_for_many(self, doing, unit, constant_queries):
        doing.book(doing.family())
        doing.cancel(doing.book(doing.family(name="Undated"), hours=9))

        def grow():
            for number in range(10):
                doing.book(doing.family(name=f"Family {number}"), minutes=5, hours=1 + number / 2)
                doing.cancel(doing.book(doing.family(name=f"Undated {number}"), hours=9))

        constant_queries(lambda: self.items(unit, AT + timedelta(days=1)), grow)


class TestJobPanel:
    def test_a_planned_sitting_leads_to_its_pages(self, sitting):
        panel = panels.sitting_of_job(sitting.job, Role.HELPER, AT)
        assert (panel.title, panel.anchor) == ("Sitting", "sitting")
        page = drawn(panel)
        for view in ("sitting", "move_sitting", "cancel_sitting"):
            assert reverse(f"bookings:{view}", args=[sitting.pk]) in page
        assert "Thu 26 Nov, 10:00" in page
        assert "No photographs" in page
        assert "Book another sitting" not in page

    def test_a_job_without_a_date_leads_to_another(self, doing, sitting):
        doing.cancel(sitting)
        page = drawn(panels.sitting_of_job(sitting.job, Role.HELPER, AT))
        assert reverse("bookings:book_again", args=[sitting.job.reference]) in page
        assert "Cancelled: Wren has a cold." in page

    def test_each_print_is_told_and_a_lost_one_too(self, doing, sitting):
        first, second = sitting.prints.all()
        doing.log(first, "taken", tray="7", note="flat thumb")
        doing.log(second, "taken")
        doing.finish(sitting)
        sittings_actions.lose_print(second.piece, why="Dropped.", **doing.who())
        page = drawn(panels.sitting_of_job(sitting.job, Role.HELPER, AT))
        for words in ("tray 7", "flat thumb", "taken, the print was lost"):
            assert words in page

    def test_photographs_are_there_while_the_yes_stands(self, doing, sitting):
        consent = doing.consent(sitting.job.family)
        clean = cleaning.clean(io.BytesIO(makers.a_jpeg()))
        photo = photos_actions.add_photo(sitting.job, clean=clean, kind="finished", **doing.who())
        url = reverse("bookings:photo", args=[photo.public_id])
        assert url in drawn(panels.sitting_of_job(sitting.job, Role.OWNER, AT))
        consent_actions.withdraw_consent(consent, **doing.who())
        assert url not in drawn(panels.sitting_of_job(sitting.job, Role.OWNER, AT))


class TestFamilyPanels:
    def test_each_question_is_asked_or_its_yes_shown(self, doing, family):
        consent = doing.consent(family, "keep")
        page = drawn(consent_panels.consent_of_family(family, Role.HELPER, AT))
        assert "Sam Okafor on Wed 25 Nov" in page
        assert reverse("bookings:withdraw_consent", args=[consent.pk]) in page
        assert reverse("bookings:give_consent", args=[family.pk]) in page
        assert page.count("Write down this yes") == 2

    def test_the_best_day_ahead_is_offered(self, doing):
        family = doing.family(born_on=AT.date() - timedelta(weeks=6))
        page = drawn(diary_panels.best_days_of_family(family, Role.HELPER, AT))
        assert "too young" in page
        assert "?on=2027-02-14" in page, "four months after 14 October"

    def test_without_children_there_is_nothing_to_say(self, doing):
        family = makers.a_family(doing.unit, children=())
        assert diary_panels.best_days_of_family(family, Role.OWNER, AT) is None


@pytest.mark.parametrize("stage", [Stage.BOOKED, Stage.CLAY_REST, Stage.CALLED_OFF])
def test_the_panels_draw_at_every_stage_of_the_room(doing, sitting, stage):
    if stage == Stage.CLAY_REST:
        for clay_print in sitting.prints.all():
            doing.log(clay_print, "taken")
        doing.finish(sitting)
    elif stage == Stage.CALLED_OFF:
        move(sitting.job, seen=Stage.BOOKED, to=stage, **doing.who())
    page = drawn(panels.sitting_of_job(sitting.job, Role.OWNER, AT))
    assert "Wren, left hand" in page
