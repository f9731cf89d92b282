"""The diary as a page, and the pages that set a time: weeks that exist, ages that are seen first."""

import uuid
from datetime import UTC, date, datetime, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from bookings.diary import week as diary_week
from bookings.sittings.models import Sitting
from studio.jobs.models import Job
from studio.limbs import Limb
from studio.stages import Stage, move
from tests import makers
from tests.bookings.doing import AT

LONDON = "Europe/London"


@pytest.fixture
def soon():
    """A day that is three weeks off by the real clock, for pages that read it."""
    return timezone.localdate() + timedelta(weeks=3)


@pytest.fixture
def today_doing(doing):
    """A family whose child is 17 weeks old by the real clock."""
    return makers.a_family(doing.unit, name="Okafor", children=("Ada", "Tom"))


def when(day, clock="10:30", **changes):
    facts = {
        "key": uuid.uuid4(),
        "on": day.isoformat(),
        "seen_on": day.isoformat(),
        "clock": clock,
        "minutes": 45,
        "place": "home",
        "place_words": "",
        "young_why": "",
    }
    return facts | changes


def both_hands(family):
    child = family.children.oldest_first()[0]
    return [f"{child.pk}-{limb}" for limb in (Limb.LEFT_HAND, Limb.RIGHT_HAND)]


class TestWeeks:
    @pytest.mark.parametrize(
        ("name", "first", "last", "earlier", "later"),
        [
            # ISO 8601 weeks that cross a year, as computed in the trade notes.
            ("2026-W53", date(2026, 12, 28), date(2027, 1, 3), "2026-W52", "2027-W01"),
            ("2025-W01", date(2024, 12, 30), date(2025, 1, 5), "2024-W52", "2025-W02"),
            ("2020-W53", date(2020, 12, 28), date(2021, 1, 3), "2020-W52", "2021-W01"),
        ],
    )
    def test_a_week_across_the_year_has_its_neighbours(
        self, unit, name, first, last, earlier, later
    ):
        week = diary_week.week(unit, diary_week.parse_week(name, AT, LONDON), AT)
        assert (week.days[0].on, week.days[-1].on) == (first, last)
        assert (week.name, week.earlier, week.later) == (name, earlier, later)

    @pytest.mark.parametrize(
        ("text", "words"),
        [
            ("2026-W54", "There is no week 54 of 2026."),
            ("2025-W53", "There is no week 53 of 2025."),
            ("2026-W00", "There is no week 0 of 2026."),
            ("1999-W20", "2000 to 2099"),
            ("2100-W20", "2000 to 2099"),
            ("2099-W53", "2000 to 2099"),
            ("9999-W52", "no week"),
            ("0000-W01", "no week"),
            ("next", "like 2026-W48"),
            ("2026-W٤٨", "like 2026-W48"),
        ],
    )
    def test_a_week_that_does_not_exist_is_a_sentence(self, owner, text, words):
        answer = owner.get(reverse("bookings:diary"), {"week": text})
        assert answer.status_code == 422
        assert words in answer.content.decode()
        assert reverse("bookings:diary") in answer.content.decode()

    @pytest.mark.parametrize("week", ["2000-W01", "2099-W52"])
    def test_the_first_and_last_week_of_the_diary_have_their_page(self, owner, week):
        assert owner.get(reverse("bookings:diary"), {"week": week}).status_code == 200

    def test_a_sitting_stands_on_its_local_day_with_the_age_then(self, doing, unit):
        family = doing.family(children=("Wren",), born_on=date(2026, 7, 1))
        # 23:30 UTC in British Summer Time is 00:30 of the next day.
        sitting = doing.book(family, starts_at=datetime(2027, 5, 2, 23, 30, tzinfo=UTC))
        week = diary_week.week(unit, diary_week.parse_week("2027-W18", AT, LONDON), AT)
        (entry,) = week.days[0].entries
        assert (entry.sitting, entry.span) == (sitting, "00:30–01:15")
        (sitter,) = entry.sitters
        assert (sitter.first_name, sitter.age) == ("Wren", "10 months")
        assert sitter.limbs == "left hand, right hand"

    def test_the_cancelled_and_the_called_off_are_not_shown(self, doing, sitting, unit):
        second = doing.book(doing.family(name="Hughes"), hours=2)
        doing.cancel(sitting)
        move(second.job, seen=Stage.BOOKED, to=Stage.CALLED_OFF, **doing.who())
        assert (
            diary_week.week(unit, diary_week.parse_week("2026-W48", AT, LONDON), AT).sittings == 0
        )

    def test_a_sitting_past_and_not_finished_is_late(self, doing, sitting, unit):
        days = diary_week.parse_week("2026-W48", AT, LONDON)
        for now, late in ((sitting.ends_at, False), (sitting.ends_at + timedelta(minutes=1), True)):
            (entry,) = diary_week.week(unit, days, now).days[3].entries
            assert entry.is_late is late


class TestDiaryPage:
    def test_an_empty_week_says_so_and_leads_on(self, owner):
        page = owner.get(reverse("bookings:diary")).content.decode()
        assert "No sittings this week" in page
        assert "Week after" in page

    def test_it_shows_who_comes_and_what_waits(self, owner, doing, unit, sitting):
        page = owner.get(reverse("bookings:diary"), {"week": "2026-W48"}).content.decode()
        assert "Okafor" in page
        assert "17 weeks" in page
        assert "Without" not in page
        doing.cancel(sitting)
        page = owner.get(reverse("bookings:diary"), {"week": "2026-W48"}).content.decode()
        assert "Without a date" in page
        assert sitting.job.display_reference in page

    def test_htmx_gets_the_week_alone(self, owner):
        part = owner.get(reverse("bookings:diary"), headers={"HX-Request": "true"})
        assert 'id="week"' in part.content.decode()
        assert "<html" not in part.content.decode()
        assert "HX-Request" in part.headers["Vary"]

    def test_it_reads_the_same_for_one_and_for_many(self, owner, doing, unit, constant_queries):
        doing.cancel(doing.book(doing.family(name="Undated"), hours=8))
        doing.book(doing.family())

        def grow():
            for number in range(24):
                family = doing.family(name=f"Family {number}", children=("A", "B"))
                doing.book(family, days=number % 4 - 1, hours=2 + number // 4)
            for number in range(10):
                doing.cancel(doing.book(doing.family(name=f"Undated {number}"), hours=9))

        constant_queries(lambda: owner.get(reverse("bookings:diary"), {"week": "2026-W48"}), grow)

    def test_two_hundred_sittings_in_a_week_read_as_few_rows(
        self, owner, doing, unit, constant_queries
    ):
        sitting = doing.book(doing.family())

        def grow():
            family = sitting.job.family
            jobs = Job.objects.bulk_create(
                Job(unit=unit, family=family, reference=f"0{number:07}") for number in range(200)
            )
            Sitting.objects.bulk_create(
                Sitting(unit=unit, job=job, starts_at=sitting.starts_at, ends_at=sitting.ends_at)
                for job in jobs
            )

        url = reverse("bookings:diary")
        constant_queries(lambda: owner.get(url, {"week": "2026-W48"}), grow)


class TestBookingPage:
    def url(self, family):
        return reverse("bookings:book_sitting", args=[family.pk])

    def test_it_shows_the_ages_and_the_diary_of_the_day(self, owner, doing, today_doing, soon):
        first = owner.post(
            self.url(today_doing), when(soon, wanted=both_hands(today_doing)), follow=True
        )
        assert first.status_code == 200
        other = makers.a_family(doing.unit, name="Hughes", children=("Wren",))
        page = owner.get(self.url(other), {"on": soon.isoformat()}).content.decode()
        assert "20 weeks" in page
        assert "10:30–11:15" in page
        assert "Okafor" in page

    def test_htmx_gets_the_day_alone_when_the_date_changes(self, owner, today_doing, soon):
        part = owner.get(
            self.url(today_doing),
            {"on": soon.isoformat(), "young_why": "Because"},
            headers={"HX-Request": "true"},
        ).content.decode()
        assert "<html" not in part
        assert f'name="seen_on" value="{soon.isoformat()}"' in part
        assert "20 weeks" in part

    @pytest.mark.parametrize("day", ["", "soon", "2026-02-30", "1850-01-01", "9999-12-31"])
    def test_a_day_that_does_not_exist_asks_for_one(self, owner, today_doing, day):
        answer = owner.get(
            self.url(today_doing), {"on": day or "-"}, headers={"HX-Request": "true"}
        )
        assert answer.status_code == 200
        assert "Choose a day" in answer.content.decode()

    def test_a_booking_opens_the_job(self, helper, today_doing, soon):
        answer = helper.post(self.url(today_doing), when(soon, wanted=both_hands(today_doing)))
        job = Job.objects.get()
        assert answer.headers["Location"] == job.get_absolute_url()
        local = timezone.localtime(job.sittings.get().starts_at)
        assert (local.date(), f"{local:%H:%M}") == (soon, "10:30")
        assert job.events.filter(what="book_sitting").count() == 1

    def test_the_same_press_twice_is_one(self, owner, today_doing, soon):
        facts = when(soon, wanted=both_hands(today_doing))
        for _ in range(2):
            assert owner.post(self.url(today_doing), facts).status_code == 302
        assert Job.objects.count() == 1

    def test_nothing_is_booked_before_the_ages_were_seen(self, owner, today_doing, soon):
        facts = when(soon, wanted=both_hands(today_doing), seen_on="")
        answer = owner.post(self.url(today_doing), facts)
        page = answer.content.decode()
        assert answer.status_code == 422
        assert "look at them, then press again" in page
        assert f'name="seen_on" value="{soon.isoformat()}"' in page
        assert not Job.objects.exists()

    def test_too_young_comes_back_with_a_field_for_the_reason(self, owner, doing, soon):
        family = makers.a_family(
            doing.unit, name="Hughes", born_on=timezone.localdate() - timedelta(weeks=2)
        )
        facts = when(soon, wanted=both_hands(family))
        answer = owner.post(self.url(family), facts)
        page = answer.content.decode()
        assert answer.status_code == 409
        assert "too young" in page
        assert "Yes, so young, because" in page
        assert not Job.objects.exists()
        reason = facts | {"young_why": "They move abroad."}
        assert owner.post(self.url(family), reason).status_code == 302
        assert Sitting.objects.get().young_why == "They move abroad."

    @pytest.mark.parametrize(
        ("changes", "words"),
        [
            ({"on": "2026-02-30"}, "a day that exists"),
            ({"on": ""}, "This is still needed."),
            ({"on": "2199-01-01"}, "The diary ends with 2099."),
            ({"clock": "25:00"}, "a time of day"),
            ({"minutes": "0"}, "greater than or equal to 5"),
            ({"minutes": "x"}, "whole number"),
            ({"wanted": []}, "at least one hand or foot"),
            ({"wanted": ["1-tail"]}, "valid choice"),
            ({"place": "moon"}, "valid choice"),
            ({"place": "elsewhere"}, "Write where the sitting is."),
            ({"key": ""}, "without its key"),
        ],
    )
    def test_a_bad_form_comes_back_filled(self, owner, today_doing, soon, changes, words):
        facts = when(soon, wanted=both_hands(today_doing), young_why="") | changes
        answer = owner.post(self.url(today_doing), facts)
        page = answer.content.decode()
        assert answer.status_code == 422
        assert words in page.replace("&#x27;", "'")
        if "wanted" not in changes:
            assert page.count(" checked") >= 2
        assert not Job.objects.exists()

    def test_the_hour_that_the_clocks_skip_is_a_sentence(self, owner, doing):
        """29 March 2026, 01:30 in London: forms of any year answer alike."""
        family = doing.family(born_on=date(2025, 11, 1))
        answer = owner.post(
            self.url(family), when(date(2026, 3, 29), "01:30", wanted=both_hands(family))
        )
        assert answer.status_code == 422
        assert "There is no 01:30 on Sun 29 Mar" in answer.content.decode()

    def test_a_taken_slot_comes_back_with_whose_it_is(self, owner, doing, today_doing, soon):
        owner.post(self.url(today_doing), when(soon, wanted=both_hands(today_doing)))
        other = makers.a_family(doing.unit, name="Hughes")
        answer = owner.post(self.url(other), when(soon, "11:00", wanted=both_hands(other)))
        assert answer.status_code == 409
        assert "The diary is taken: Okafor" in answer.content.decode()

    def test_a_family_without_children_is_told_the_first_step(self, owner, doing):
        family = makers.a_family(doing.unit, children=())
        page = owner.get(self.url(family)).content.decode()
        assert "No child yet" in page
        assert reverse("studio:add_child", args=[family.pk]) in page

    def test_names_are_escaped(self, owner, doing):
        family = makers.a_family(doing.unit, name="<b>Bold</b>", children=("<i>x</i>",))
        page = owner.get(self.url(family)).content.decode()
        assert "<b>Bold" not in page
        assert "<i>x" not in page


class TestMovingPages:
    @pytest.fixture
    def held(self, doing, today_doing, soon):
        """A sitting in three weeks by the real clock."""
        starts_at = datetime.combine(soon, datetime.min.time(), UTC) + timedelta(hours=10)
        return doing.book(today_doing, starts_at=starts_at, at=timezone.now())

    def test_a_sitting_is_moved(self, owner, held, soon):
        url = reverse("bookings:move_sitting", args=[held.pk])
        assert 'value="45"' in owner.get(url).content.decode()
        later = soon + timedelta(days=1)
        answer = owner.post(url, when(later, "09:00", version=1, why="A birthday."))
        assert answer.headers["Location"] == held.job.get_absolute_url()
        held.refresh_from_db()
        assert (timezone.localdate(held.starts_at), held.version) == (later, 2)

    def test_the_second_of_two_sees_both(self, owner, helper, held, soon):
        url = reverse("bookings:move_sitting", args=[held.pk])
        owner.post(url, when(soon + timedelta(days=1), "09:00", version=1, why=""))
        mine = when(soon + timedelta(days=2), "16:00", version=1, why="Mine")
        answer = helper.post(url, mine)
        page = answer.content.decode()
        assert answer.status_code == 409
        assert "09:00" in page
        assert "16:00" in page
        assert 'value="Mine"' in page
        assert helper.post(url, mine | {"version": 2}).status_code == 302

    def test_the_second_of_two_who_cancels_sees_the_new_date(self, owner, helper, held, soon):
        owner.post(
            reverse("bookings:move_sitting", args=[held.pk]),
            when(soon + timedelta(days=1), "09:00", version=1, why=""),
        )
        url = reverse("bookings:cancel_sitting", args=[held.pk])
        facts = {"key": uuid.uuid4(), "why": "A cold.", "version": 1}
        answer = helper.post(url, facts)
        assert answer.status_code == 409
        assert "09:00" in answer.content.decode()
        assert 'value="A cold."' in answer.content.decode()
        held.refresh_from_db()
        assert held.state == "planned"
        assert helper.post(url, facts | {"version": 2}).status_code == 302

    def test_a_cancelled_job_is_booked_again(self, owner, held, soon):
        cancel = reverse("bookings:cancel_sitting", args=[held.pk])
        assert owner.post(cancel, {"key": uuid.uuid4(), "why": "", "version": 1}).status_code == 422
        owner.post(cancel, {"key": uuid.uuid4(), "why": "A cold.", "version": 1})
        url = reverse("bookings:book_again", args=[held.job.reference])
        assert "Ada, left hand" in owner.get(url).content.decode()
        answer = owner.post(url, when(soon + timedelta(days=7)))
        assert answer.headers["Location"] == held.job.get_absolute_url()
        assert held.job.sittings.planned().count() == 1
        again = owner.post(url, when(soon + timedelta(days=9)))
        assert again.status_code == 409
        assert "move that one" in again.content.decode()
