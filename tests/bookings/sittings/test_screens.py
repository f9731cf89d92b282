"""The sitting on a tablet: one question per screen, each answer saved before the next."""

import uuid

import pytest
from django.urls import reverse
from django.utils import timezone

from bookings.sittings import actions, screens
from bookings.sittings.models import ClayPrint, Sitting
from studio.jobs.actions import leave_off_piece
from studio.jobs.models import Job
from studio.limbs import Limb
from studio.stages import Stage
from tests.bookings.doing import AT
from tests.parts.markup import folded


@pytest.fixture
def limbs(sitting):
    return screens.prints_of(sitting)


def page_of(client, sitting, at=""):
    query = {"at": at} if at else {}
    answer = client.get(reverse("bookings:sitting", args=[sitting.pk]), query)
    assert answer.status_code == 200
    return folded(answer.content.decode())


def press(client, view, pk, **facts):
    url = reverse(f"bookings:{view}", args=[pk])
    return client.post(url, {"key": uuid.uuid4(), **facts})


class TestTheWay:
    def test_it_begins_with_the_cautions_and_ends_with_all_of_it(self, sitting, limbs):
        way, at = [], ""
        while screen := screens.screen(sitting, limbs, at):
            way.append(screen.at)
            if not screen.onward:
                break
            at = screen.onward
        assert way == [
            "cautions",
            "make",
            "keep",
            "show",
            *(str(each.pk) for each in limbs),
            "summary",
        ]

    def test_back_undoes_onward(self, sitting, limbs):
        for at in ("make", "keep", "show", str(limbs[0].pk), str(limbs[1].pk), "summary"):
            before = screens.screen(sitting, limbs, screens.screen(sitting, limbs, at).back)
            assert before.onward == at

    def test_it_opens_where_it_stands(self, doing, sitting, limbs):
        stands = [screens.first_open_screen(sitting, limbs)]
        for outcome in ("taken", "not_today"):
            doing.log(limbs[len(stands) - 1], outcome)
            stands.append(screens.first_open_screen(sitting, screens.prints_of(sitting)))
        assert stands == ["cautions", str(limbs[1].pk), "summary"]

    def test_a_limb_passed_over_is_asked_again_before_the_end(self, doing, sitting, limbs):
        doing.log(limbs[1], "taken")
        assert screens.next_screen(screens.prints_of(sitting), limbs[1]) == str(limbs[0].pk)
        doing.log(limbs[0], "taken")
        assert screens.next_screen(screens.prints_of(sitting), limbs[0]) == "summary"

    def test_the_eldest_child_comes_first_and_what_was_left_off_not_at_all(self, doing, unit):
        family = doing.family(children=("Ada", "Tom"))
        sitting = doing.book(family, limbs=[Limb.LEFT_HAND, Limb.LEFT_FOOT])
        limbs = screens.prints_of(sitting)
        names = [each.piece.child.first_name for each in limbs]
        assert names == ["Ada", "Ada", "Tom", "Tom"]
        leave_off_piece(limbs[0].piece, why="Not wanted.", **doing.who())
        assert screens.prints_of(sitting) == limbs[1:]


class TestScreens:
    def test_the_cautions_stand_first_and_name_who_comes(self, helper, sitting, monkeypatch):
        monkeypatch.setattr(timezone, "now", lambda: AT)  # the day before
        page = page_of(helper, sitting)
        for words in screens.CAUTIONS:
            assert words in page
        assert "does not replace the maker’s data sheet" in page
        assert "Wren" in page
        assert "not today" in page, "the sitting of this test lies on another day"

    @pytest.mark.parametrize("at", ["nowhere", "0", "99999", "keep ", "over"])
    def test_a_screen_that_is_not_there_is_a_404(self, owner, sitting, at):
        url = reverse("bookings:sitting", args=[sitting.pk])
        assert owner.get(url, {"at": at}).status_code == 404

    def test_another_sittings_limb_is_a_404(self, owner, doing, sitting):
        other = doing.book(doing.family(name="Hughes"), days=2).prints.first()
        url = reverse("bookings:sitting", args=[sitting.pk])
        assert owner.get(url, {"at": other.pk}).status_code == 404

    def test_consent_is_asked_and_a_yes_leads_on(self, owner, sitting, family):
        page = page_of(owner, sitting, "keep")
        assert "May we keep photographs?" in page
        assert family.contact_name in page
        onward = f"{reverse('bookings:sitting', args=[sitting.pk])}?at=show"
        answer = press(
            owner, "give_consent", family.pk, purpose="keep", given_by="Sam", back=onward
        )
        assert answer.headers["Location"] == onward
        assert "Yes, said Sam." in page_of(owner, sitting, "keep")

    def test_a_limb_says_that_nobody_agreed_and_is_logged_all_the_same(self, owner, sitting, limbs):
        at = str(limbs[0].pk)
        assert "ask before the clay" in page_of(owner, sitting, at)
        press(owner, "log_print", limbs[0].pk, outcome="taken")
        assert ClayPrint.objects.get(pk=limbs[0].pk).outcome == "taken"
        press(owner, "give_consent", sitting.job.family_id, purpose="make", given_by="Sam")
        assert "ask before the clay" not in page_of(owner, sitting, at)

    def test_the_child_and_the_limb_are_in_view(self, owner, sitting, limbs):
        page = page_of(owner, sitting, str(limbs[1].pk))
        assert "<b>Wren</b> · right hand" in page
        assert "2 of 2" in page

    def test_htmx_gets_the_question_alone(self, owner, sitting):
        url = reverse("bookings:sitting", args=[sitting.pk])
        part = owner.get(url, headers={"HX-Request": "true"}).content.decode()
        assert 'id="question"' in part
        assert "<html" not in part

    def test_photographs_are_offered_once_the_family_agreed(self, owner, doing, sitting, limbs):
        at = str(limbs[0].pk)
        assert "has not agreed" in page_of(owner, sitting, at)
        doing.consent(sitting.job.family)
        assert 'type="file"' in page_of(owner, sitting, at)

    def test_a_cancelled_sitting_says_why(self, owner, doing, sitting):
        doing.cancel(sitting)
        page = page_of(owner, sitting)
        assert "This sitting is cancelled" in page
        assert "Wren has a cold." in page

    def test_it_reads_the_same_for_one_and_for_many(self, owner, doing, constant_queries):
        sitting = doing.book(doing.family(), limbs=[Limb.LEFT_HAND])

        def grow():
            family = sitting.job.family
            for number in range(10):
                child = family.children.create(first_name=f"C{number}", born_on="2026-07-29")
                piece = sitting.job.pieces.create(child=child, limb=Limb.LEFT_HAND)
                sitting.prints.create(piece=piece)

        for at in ("cautions", "summary"):
            constant_queries(lambda at=at: page_of(owner, sitting, at), grow)
            sitting.prints.exclude(piece__child__first_name="Wren").delete()
            sitting.job.pieces.exclude(child__first_name="Wren").delete()


class TestAnswers:
    def test_taken_is_saved_and_leads_to_the_next_limb(self, helper, sitting, limbs):
        answer = press(helper, "log_print", limbs[0].pk, outcome="taken", tray="4", note="good")
        here = reverse("bookings:sitting", args=[sitting.pk])
        assert answer.headers["Location"] == f"{here}?at={limbs[1].pk}"
        logged = ClayPrint.objects.get(pk=limbs[0].pk)
        assert (logged.outcome, logged.tray, logged.note) == ("taken", "4", "good")
        assert sitting.job.events.get(what="log_print").by == helper.user

    def test_again_stays_with_the_limb_and_counts(self, owner, sitting, limbs):
        answer = press(owner, "log_print", limbs[0].pk, outcome="repeat")
        assert answer.headers["Location"].endswith(f"?at={limbs[0].pk}")
        assert "tried 1 time" in page_of(owner, sitting, str(limbs[0].pk))

    def test_the_same_press_twice_is_one_try(self, owner, limbs):
        key = uuid.uuid4()
        for _ in range(2):
            press(owner, "log_print", limbs[0].pk, outcome="repeat", key=key)
        assert ClayPrint.objects.get(pk=limbs[0].pk).tries == 1

    @pytest.mark.parametrize(
        ("facts", "words"),
        [
            ({}, "Press one of the answers."),
            ({"outcome": "planned"}, "Press one of the answers."),
            ({"outcome": "taken", "tray": "x" * 11}, "at most 10"),
            ({"outcome": "taken", "note": "x" * 201}, "at most 200"),
            ({"outcome": "taken", "key": ""}, "without its key"),
        ],
    )
    def test_a_bad_answer_comes_back_to_its_question(self, owner, sitting, limbs, facts, words):
        answer = press(owner, "log_print", limbs[0].pk, **facts)
        assert answer.status_code == 422
        assert words in answer.content.decode()
        assert "left hand" in answer.content.decode()
        assert answer.headers["HX-Push-Url"] == "false"
        assert not ClayPrint.objects.exclude(outcome="planned").exists()

    def test_a_refusal_comes_back_to_its_question(self, owner, doing, sitting, limbs):
        doing.cancel(sitting)
        answer = press(owner, "log_print", limbs[0].pk, outcome="taken")
        assert answer.status_code == 409
        assert "cancelled" in answer.content.decode()

    def test_the_whole_sitting_by_hand(self, owner, sitting, limbs, unit):
        assert "Still open" in page_of(owner, sitting, "summary")
        press(owner, "log_print", limbs[0].pk, outcome="taken", tray="1")
        press(owner, "log_print", limbs[1].pk, outcome="not_today")
        summary = page_of(owner, sitting)
        assert "ask before you finish" in summary
        early = press(owner, "finish_sitting", sitting.pk, put_off="split")
        assert early.status_code == 409
        assert "Nobody’s yes to the prints and casts stands" in early.content.decode()
        press(owner, "give_consent", sitting.job.family_id, purpose="make", given_by="Sam")
        assert "ask before you finish" not in page_of(owner, sitting)
        assert "Is the sitting over?" in summary
        assert "They wait for a sitting of their own" in summary
        answer = press(owner, "finish_sitting", sitting.pk, put_off="split")
        assert answer.headers["Location"] == reverse("bookings:sitting", args=[sitting.pk])
        over = page_of(owner, sitting)
        assert "The sitting is done" in over
        assert "tray 1" in over
        assert Job.objects.get(pk=sitting.job.pk).stage == Stage.CLAY_REST
        assert unit.jobs.filter(split_from=sitting.job).count() == 1

    def test_an_early_end_is_refused_beside_the_summary(self, owner, sitting, limbs):
        press(owner, "log_print", limbs[0].pk, outcome="taken")
        answer = press(owner, "finish_sitting", sitting.pk, put_off="split")
        assert answer.status_code == 409
        assert "right hand: still to be taken" in answer.content.decode()
        assert press(owner, "finish_sitting", sitting.pk).status_code == 422
        assert Sitting.objects.get().state == "planned"

    def test_nothing_taken_leads_to_cancelling(self, owner, doing, sitting, limbs):
        for each in limbs:
            doing.log(each, "not_today")
        page = page_of(owner, sitting)
        assert "Nothing was taken" in page
        assert reverse("bookings:cancel_sitting", args=[sitting.pk]) in page
        answer = press(owner, "finish_sitting", sitting.pk, put_off="leave")
        assert answer.status_code == 409
        assert "Nothing was taken: cancel" in answer.content.decode()


def test_the_tray_of_a_second_print_follows_the_first(owner, doing, sitting, limbs):
    doing.log(limbs[0], "taken", tray="1")
    assert 'name="tray" value="2"' in page_of(owner, sitting, str(limbs[1].pk))
    actions.lose_print(limbs[0].piece, why="Dropped.", **doing.who())
    assert 'name="tray" value="1"' in page_of(owner, sitting, str(limbs[1].pk))
