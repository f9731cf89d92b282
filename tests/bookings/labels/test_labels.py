"""Labels for the clay: printed, photographed and read back; and the page that their code opens."""

import io
import subprocess

import pytest
import zxingcpp
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from pypdf import PdfReader

from bookings.labels import paper
from bookings.sittings import actions
from studio.accounts.models import Unit
from studio.jobs.actions import leave_off_piece
from studio.limbs import Limb
from studio.roles import Role
from studio.stages import Stage
from studio.web import panels
from tests import makers
from tests.parts.markup import folded

MM = 72 / 25.4


def printed(client, sitting, **query):
    answer = client.get(reverse("bookings:labels_of_sitting", args=[sitting.pk]), query)
    assert (answer.status_code, answer.headers["Content-Type"]) == (200, "application/pdf")
    assert "no-store" in answer.headers["Cache-Control"]
    return answer.content


def words_on(made):
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(made)).pages]


def size_mm(made):
    box = PdfReader(io.BytesIO(made)).pages[0].mediabox
    return round(float(box.width) / MM, 1), round(float(box.height) / MM, 1)


def read_codes(made, dpi=200):
    """What a camera reads off every page, printed at `dpi`."""
    drawn = subprocess.run(
        ["pdftoppm", "-r", str(dpi), "-png", "-"],  # noqa: S607 - poppler's, wherever it is
        input=made,
        capture_output=True,
        check=True,
    ).stdout
    return [code.text for page in pages_in(drawn) for code in zxingcpp.read_barcodes(page)]


def pages_in(pngs):
    """The pictures of a stream of PNGs: each begins with the same eight bytes."""
    head = b"\x89PNG\r\n\x1a\n"
    return [Image.open(io.BytesIO(head + page)) for page in pngs.split(head)[1:]]


def address(sitting, number):
    return f"http://testserver{reverse('bookings:piece', args=[sitting.job.reference, number])}"


class TestLabelsOfSitting:
    @pytest.mark.parametrize(
        ("shape", "size", "pages"),
        [("roll", (62, 29), 2), ("a6", (105, 148), 2), ("a4", (210, 297), 1)],
    )
    def test_each_prints_code_opens_its_piece(self, owner, doing, sitting, shape, size, pages):
        left = sitting.prints.get(piece__limb=Limb.LEFT_HAND)
        doing.log(left, "taken", tray="7")
        made = printed(owner, sitting, paper=shape)
        assert size_mm(made) == pytest.approx(size, abs=0.6)
        assert len(words_on(made)) == pages
        assert sorted(read_codes(made)) == [address(sitting, 1), address(sitting, 2)]
        for number, found in enumerate(sorted(read_codes(made)), start=1):
            page = folded(owner.get(found.removeprefix("http://testserver")).content.decode())
            limb = ["left hand", "right hand"][number - 1]
            assert f"Wren, {limb}" in page

    def test_it_says_whose_print_it_is_to_a_person(self, owner, doing, sitting):
        left = sitting.prints.get(piece__limb=Limb.LEFT_HAND)
        doing.log(left, "taken", tray="7")
        first, second = words_on(printed(owner, sitting))
        for words in (sitting.job.display_reference, "Wren", "left hand", "Tray 7 Wed 25 Nov"):
            assert words in first
        assert "Tray ____ Thu 26 Nov" in second, "still to be taken: to be written by hand"
        assert "Okafor" not in first + second

    @pytest.mark.parametrize(("width", "height"), [(40, 25), (40, 40), (62, 100), (150, 150)])
    def test_the_roll_is_as_large_as_the_unit_says(self, owner, unit, sitting, width, height):
        Unit.objects.filter(pk=unit.pk).update(label_width_mm=width, label_height_mm=height)
        made = printed(owner, sitting)
        assert size_mm(made) == pytest.approx((width, height), abs=0.2)
        assert len(words_on(made)) == 2, "a label stays on its piece of the roll"
        assert len(read_codes(made, dpi=300)) == 2

    def test_a_roll_too_small_to_read_is_refused(self, owner, unit):
        with pytest.raises(IntegrityError), transaction.atomic():
            Unit.objects.filter(pk=unit.pk).update(label_width_mm=39)
        page = owner.post(reverse("studio:edit_unit"), {"label_height_mm": "20"})
        assert page.status_code == 422
        assert "A label needs 25 mm, for a code that can be read." in folded(page.content.decode())

    def test_the_same_labels_are_the_same_bytes(self, owner, sitting):
        assert printed(owner, sitting) == printed(owner, sitting)

    def test_what_was_put_off_left_off_or_lost_gets_none(self, owner, doing):
        sitting = doing.book(doing.family(), limbs=list(Limb))
        taken, lost, put_off, left_off = sitting.prints.order_by("pk")
        for each, outcome in ((taken, "taken"), (lost, "taken"), (put_off, "not_today")):
            doing.log(each, outcome)
        actions.lose_print(lost.piece, why="It fell.", **doing.who())
        leave_off_piece(left_off.piece, why="Not wanted.", **doing.who())
        assert read_codes(printed(owner, sitting)) == [address(sitting, 1)]

    def test_a_piece_keeps_its_number_when_an_earlier_one_is_left_off(self, owner, doing, sitting):
        first = sitting.prints.get(piece__limb=Limb.LEFT_HAND)
        leave_off_piece(first.piece, why="Not wanted.", **doing.who())
        assert read_codes(printed(owner, sitting)) == [address(sitting, 2)]

    def test_a_cancelled_sitting_has_nothing_to_label_and_says_so(self, owner, doing, sitting):
        doing.cancel(sitting)
        answer = owner.get(reverse("bookings:labels_of_sitting", args=[sitting.pk]))
        assert answer.status_code == 409
        assert "There is no print here to label" in folded(answer.content.decode())

    def test_another_paper_is_not_there(self, owner, sitting):
        url = reverse("bookings:labels_of_sitting", args=[sitting.pk])
        assert owner.get(url, {"paper": "a3"}).status_code == 404
        assert owner.post(url).status_code == 405

    def test_they_are_offered_before_and_after(self, owner, doing, sitting):
        url = reverse("bookings:labels_of_sitting", args=[sitting.pk])
        here = reverse("bookings:sitting", args=[sitting.pk])
        assert f'{url}?paper=roll"' in folded(owner.get(here).content.decode())
        for clay_print in sitting.prints.all():
            doing.log(clay_print, "taken")
        doing.finish(sitting)
        assert f'{url}?paper=a6"' in folded(owner.get(here).content.decode())


class TestLabelsOfWeek:
    def url(self, week="2026-W48"):
        return reverse("bookings:labels_of_week", args=[week])

    def test_every_print_of_the_week_and_of_no_other(self, owner, doing, sitting):
        later = doing.book(doing.family(name="Hughes"), limbs=[Limb.LEFT_FOOT], days=2)
        doing.book(doing.family(name="Nilsson"), days=9)
        found = read_codes(owner.get(self.url(), {"paper": "a4"}).content)
        assert sorted(found) == sorted(
            [address(sitting, 1), address(sitting, 2), address(later, 1)]
        )

    def test_it_reads_no_more_for_many(self, owner, doing, sitting, constant_queries, monkeypatch):
        monkeypatch.setattr(paper.paper, "pdf", lambda *_, **__: b"%PDF")

        def grow():
            for number in range(4):
                family = doing.family(name=f"F{number}", children=("Ada", "Tom"))
                doing.book(family, limbs=list(Limb), hours=number + 1)

        constant_queries(lambda: owner.get(self.url()), grow)

    @pytest.mark.parametrize("week", ["2026-W60", "nonsense", "1066-W01"])
    def test_a_week_that_is_none_is_not_there(self, owner, week, unit):
        assert owner.get(self.url(week)).status_code == 404

    def test_an_empty_week_says_so(self, owner, unit):
        assert owner.get(self.url("2026-W02")).status_code == 409


class TestPiece:
    def url(self, job, number=1):
        return reverse("bookings:piece", args=[job.reference, number])

    def test_the_address_is_short_enough_for_a_small_code(self, sitting):
        assert len(self.url(sitting.job)) < 16

    def test_logged_out_it_asks_to_log_in_and_comes_back(self, parent, owner, unit, sitting):
        url = self.url(sitting.job)
        asked = parent.get(url)
        assert asked.headers["Location"] == f"{reverse('studio:log_in')}?next={url}"
        answer = parent.post(
            asked.headers["Location"],
            {"username": owner.user.email, "password": makers.PASSWORD, "next": url},
        )
        assert answer.headers["Location"] == url
        assert parent.get(url).status_code == 200

    def test_it_is_nobody_elses(self, stranger, office, helper, sitting):
        url = self.url(sitting.job)
        assert stranger.get(url).status_code == 404
        assert office.get(url).status_code == 403
        assert helper.get(url).status_code == 200
        assert helper.post(url).status_code == 405

    @pytest.mark.parametrize("number", [0, 3, 999])
    def test_a_piece_that_is_none_is_not_there(self, owner, sitting, number):
        assert owner.get(self.url(sitting.job, number)).status_code == 404

    def test_a_left_off_piece_says_why_and_leads_nowhere(self, owner, doing, sitting):
        piece = sitting.job.pieces.first()
        leave_off_piece(piece, why="One hand is enough.", **doing.who())
        page = folded(owner.get(self.url(sitting.job)).content.decode())
        assert "One hand is enough." in page
        assert "Open the sitting" not in page

    @pytest.mark.parametrize(
        ("stage", "words", "url"),
        [
            (Stage.BOOKED, "Its sitting is on", "/sittings/"),
            (Stage.CLAY_REST, "In the clay: pour by", "/bench/pour/"),
            (Stage.CASTING, "In the mould: out from", "/bench/#mould"),
            (Stage.DRYING, "Drying: about", "/weigh/"),
            (Stage.FRAMING, "It is being framed.", "/bench/#frames"),
            (Stage.READY, "It is ready to go home.", "/jobs/"),
            (Stage.HANDED_OVER, "Handed over: nothing is left", ""),
            (Stage.CALLED_OFF, "Called off: nothing is left", ""),
        ],
    )
    def test_at_every_stage_it_says_what_comes_next(self, owner, unit, stage, words, url):
        job = makers.job_at(stage, unit)
        page = folded(owner.get(self.url(job)).content.decode())
        assert words in page
        step = panels.next_step(job.pieces.first(), Role.OWNER, timezone.now())
        assert url in step.url
        assert bool(step.url) == bool(url)
        if step.url:
            assert f'href="{step.url}"' in page
            assert owner.get(step.url).status_code == 200

    def test_without_a_date_it_leads_to_a_new_sitting(self, owner, doing, sitting):
        doing.cancel(sitting)
        again = reverse("bookings:book_again", args=[sitting.job.reference])
        assert again in folded(owner.get(self.url(sitting.job)).content.decode())

    def test_it_reads_the_same_for_one_and_for_many(self, owner, doing, sitting, constant_queries):
        def grow():
            for number in range(6):
                child = sitting.job.family.children.create(
                    first_name=f"C{number}", born_on="2026-07-29"
                )
                piece = sitting.job.pieces.create(child=child, limb=Limb.LEFT_HAND)
                sitting.prints.create(piece=piece)

        constant_queries(lambda: owner.get(self.url(sitting.job)), grow)


@given(st.integers(40, 150), st.integers(25, 150))
def test_code_and_words_stay_on_the_label(width_mm, height_mm):
    css = paper.roll_css(width_mm, height_mm)
    assert f"size: {width_mm}mm {height_mm}mm" in css
    code_mm = float(css.split("__code { width: ")[1].split("mm")[0])
    words_pt = float(css.split("font-size: ")[1].split("pt")[0])
    assert 18 <= code_mm <= min(height_mm - 2.9, width_mm / 2)
    assert words_pt >= 8, "read at arm's length"
    five_lines_mm = (4 + 1.2) * 1.3 * words_pt / MM
    assert five_lines_mm <= height_mm - 3
    assert code_mm + 9 * 0.6 * words_pt / MM <= width_mm - 3, "nine letters of the reference"
