"""An order follows the job's pieces, the look, extras and reductions."""

import uuid
from datetime import date, timedelta

import pytest
from django.urls import reverse

from orders.invoices.actions import issue_invoice
from orders.order import totals
from orders.order.actions import (
    add_extra,
    add_reduction,
    choose_look,
    drop_line,
    price_job,
    reprice,
)
from orders.order.models import Order
from orders.order_page.actions import call_off
from orders.payments.actions import take_payment
from orders.prices.actions import make_price_list
from studio.jobs.actions import leave_off_piece, open_job
from studio.limbs import Limb
from studio.stages import ActionRefused, MoveRefused, Stage
from studio.versions import EditedMeanwhile
from tests import makers
from tests.parts.markup import folded


def lines(order):
    return [(line.label, line.quantity, line.unit_minor) for line in order.lines.all()]


class TestPricing:
    def test_a_job_is_priced_when_it_is_opened(self, job):
        assert lines(job.order) == [
            ("Single cast, framed", 1, 12500),
            ("Pair of casts, framed", 1, 19900),
        ]
        assert totals.balance_of(job.order) == 32400
        assert job.events.filter(what="price_job").count() == 1

    def test_leaving_a_piece_off_prices_it_again_and_keeps_the_rest(self, job, look, press):
        add_extra(job.order, price=look.all["Engraved plate"], quantity=1, **press())
        add_reduction(job.order, label="Second child", amount_minor=2000, **press())
        leave_off_piece(job.pieces.first(), why="They changed their minds.", **press())
        assert lines(job.order) == [
            ("Pair of casts, framed", 1, 19900),
            ("Engraved plate", 1, 2200),
            ("Second child", 1, -2000),
        ]

    def test_without_a_list_the_job_opens_unpriced_and_the_panel_says_what_to_do(
        self, unit, owner, press
    ):
        family = makers.a_family(unit)
        job = open_job(
            family,
            wanted=[(family.children.get(), Limb.LEFT_HAND)],
            promised_on=None,
            **press(),
        )
        assert not Order.objects.exists()
        assert "No price list is in force" in folded(
            owner.get(job.get_absolute_url()).content.decode()
        )
        with pytest.raises(ActionRefused, match="No price list is in force yet"):
            price_job(job, **press())
        makers.prices(unit)
        assert "Price this job" in folded(owner.get(job.get_absolute_url()).content.decode())
        assert totals.balance_of(price_job(job, **press())) == 12500

    @pytest.mark.parametrize("list_in_force", [True, False])
    def test_a_job_that_ended_without_a_price_offers_none(self, unit, owner, press, list_in_force):
        job = makers.a_job(unit)
        call_off(job, seen=Stage.BOOKED, keep_minor=0, why="They moved.", **press())
        if list_in_force:
            makers.prices(unit)
        for address in (job.get_absolute_url(), reverse("orders:order", args=[job.reference])):
            page = folded(owner.get(address).content.decode())
            assert "This job ended without a price." in page
            assert "Price this job" not in page
            assert "No price list is in force" not in page

    def test_a_list_that_cannot_make_up_the_pieces_leaves_the_old_lines_and_says_so(
        self, unit, owner, press
    ):
        prices = makers.prices(unit)
        prices.prices.filter(label__startswith="Single").delete()
        family = makers.a_family(unit)
        wanted = [(family.children.get(), limb) for limb in list(Limb)]
        job = open_job(family, wanted=wanted, promised_on=None, **press())
        leave_off_piece(job.pieces.first(), why="Not today.", **press())
        assert lines(job.order) == [("Set of four casts, framed", 1, 34500)]
        assert not totals.prices_every_piece(job.order)
        page = folded(owner.get(job.get_absolute_url()).content.decode())
        assert "does not match the pieces" in page
        with pytest.raises(ActionRefused, match="cannot make up 3 pieces exactly"):
            price_job(job, **press())

    def test_the_price_that_was_told_holds_when_a_new_list_comes(self, job, unit, press):
        newer = make_price_list(unit, valid_from=date(2021, 1, 1), copy_of=job.order.price_list)
        newer.prices.filter(kind="casts").update(amount_minor=50000)
        leave_off_piece(job.pieces.first(), why="Not wanted.", **press())
        assert totals.balance_of(job.order) == 19900

    def test_pricing_anew_takes_todays_list_and_keeps_the_look_by_name(
        self, job, unit, look, press
    ):
        choose_look(job.order, backing=look.backing, finish=look.finish, seen_version=1, **press())
        newer = make_price_list(unit, valid_from=date(2021, 1, 1), copy_of=job.order.price_list)
        newer.prices.filter(label="Limed oak").update(amount_minor=1600)
        newer.prices.filter(label="Deep blue felt").delete()
        order = reprice(job, **press())
        order.refresh_from_db()
        assert (order.price_list, order.frame.backing) == (newer, None)
        assert order.price_of("finish").price_list == newer
        assert lines(order)[-1] == ("Finish: Limed oak", 1, 1600)

    def test_the_same_key_prices_once(self, job, press):
        once = press()
        assert price_job(job, **once) == price_job(job, **once)
        assert job.events.filter(what="price_job").count() == 2  # with the one of the opening

    def test_a_standing_invoice_holds_the_lines(self, job, press):
        issue_invoice(job.order, **press())
        leave_off_piece(job.pieces.first(), why="Not wanted.", **press())
        assert totals.balance_of(job.order) == 32400
        for action in (price_job, reprice):
            with pytest.raises(ActionRefused, match="Invoice INV-0001 stands"):
                action(job, **press())


class TestLook:
    def test_it_is_charged_and_counts_up_the_version(self, order, look, press):
        chosen = choose_look(
            order, backing=look.backing, finish=look.finish, seen_version=1, **press()
        )
        assert chosen.frame.version == 2
        assert lines(order)[2:] == [
            ("Backing: Deep blue felt", 1, 1200),
            ("Finish: Limed oak", 1, 1500),
        ]
        choose_look(order, backing=None, finish=look.finish, seen_version=2, **press())
        assert lines(order)[2:] == [("Finish: Limed oak", 1, 1500)]

    def test_the_second_of_two_people_is_told(self, order, look, press):
        choose_look(
            order, backing=look.backing, finish=None, seen_version=1, **press() | {"by": None}
        )
        with pytest.raises(EditedMeanwhile) as told:
            choose_look(order, backing=None, finish=None, seen_version=1, **press())
        assert told.value.current.backing == look.backing.option
        assert lines(order)[2:] == [("Backing: Deep blue felt", 1, 1200)]

    @pytest.mark.parametrize("stage", Stage)
    def test_the_family_may_until_the_framing_and_the_studio_until_it_is_ready(
        self, job, look, press, stage
    ):
        type(job).objects.filter(pk=job.pk).update(stage=stage)
        job.refresh_from_db()
        family_may = stage in (Stage.BOOKED, Stage.CLAY_REST, Stage.CASTING, Stage.DRYING)
        assert totals.can_choose(job) is family_may
        for by, may in ((None, family_may), (press()["by"], family_may or stage == Stage.FRAMING)):
            choose = {"backing": look.backing, "finish": None, **press(), "by": by}
            version = Order.objects.get(job=job).frame.version
            if may:
                choose_look(job.order, seen_version=version, **choose)
            else:
                with pytest.raises(MoveRefused, match="framing has begun"):
                    choose_look(job.order, seen_version=version, **choose)

    def test_a_look_of_another_list_or_kind_is_refused(self, order, unit, look, press):
        other = make_price_list(unit, valid_from=date(2022, 1, 1), copy_of=order.price_list)
        for backing in (other.prices.get(label="Chalk linen"), look.finish):
            with pytest.raises(ActionRefused, match="not on this order"):
                choose_look(order, backing=backing, finish=None, seen_version=1, **press())

    def test_the_page_shows_both_versions_and_the_second_press_wins(
        self, order, owner, look, press
    ):
        url = f"/jobs/{order.job.display_reference}/order/look/"
        sent = {"key": uuid.uuid4(), "seen_version": 1, "backing": look.backing.pk, "finish": ""}
        choose_look(order, backing=None, finish=look.finish, seen_version=1, **press())
        answer = owner.post(url, sent)
        assert answer.status_code == 409
        text = folded(answer.content.decode())
        assert "Somebody else saved this" in text
        assert 'name="seen_version" value="2"' in text
        assert "Limed oak" in text
        assert owner.post(url, sent | {"seen_version": 2}).status_code == 302
        order.refresh_from_db()
        assert (order.price_of("backing"), order.frame.finish) == (look.backing, None)


class TestExtrasAndReductions:
    def test_an_extra_and_a_reduction_change_the_price_and_can_be_dropped(self, order, look, press):
        add_extra(order, price=look.all["Engraved plate"], quantity=2, **press())
        add_reduction(order, label="Friends of the studio", amount_minor=1000, **press())
        assert totals.balance_of(order) == 32400 + 4400 - 1000
        for line in order.lines.filter(position__gte=200):
            drop_line(order, line_pk=line.pk, **press())
        assert totals.balance_of(order) == 32400

    def test_lines_that_follow_from_the_job_cannot_be_dropped(self, order, press):
        with pytest.raises(ActionRefused, match="follows from the pieces"):
            drop_line(order, line_pk=order.lines.first().pk, **press())

    @pytest.mark.parametrize(
        ("amount_minor", "words"), [(0, "above zero"), (32401, "£324.00"), (-5, "above zero")]
    )
    def test_a_reduction_takes_at_most_the_total(self, order, press, amount_minor, words):
        with pytest.raises(ActionRefused, match=words):
            add_reduction(order, label="Gift", amount_minor=amount_minor, **press())
        assert order.lines.count() == 2

    def test_a_reduction_says_what_it_is_for(self, order, press):
        with pytest.raises(ActionRefused, match="the invoice says it"):
            add_reduction(order, label="  ", amount_minor=100, **press())

    def test_a_gift_settles_the_order_until_it_is_dropped(self, order, press):
        add_reduction(order, label="A gift", amount_minor=32400, **press())
        order.refresh_from_db()
        assert order.settled
        drop_line(order, line_pk=order.lines.last().pk, **press())
        order.refresh_from_db()
        assert not order.settled

    def test_a_backing_is_no_extra(self, order, look, press):
        with pytest.raises(ActionRefused, match="not on this order"):
            add_extra(order, price=look.backing, quantity=1, **press())

    def test_while_an_invoice_stands_nothing_changes(self, order, look, press):
        add_extra(order, price=look.all["Engraved plate"], quantity=1, **press())
        issue_invoice(order, **press())
        before = lines(order)
        for attempt in (
            lambda: add_extra(order, price=look.all["Engraved plate"], quantity=1, **press()),
            lambda: add_reduction(order, label="x", amount_minor=1, **press()),
            lambda: drop_line(order, line_pk=order.lines.last().pk, **press()),
            lambda: choose_look(
                order, backing=look.backing, finish=None, seen_version=1, **press()
            ),
        ):
            with pytest.raises(ActionRefused, match="INV-0001 stands"):
                attempt()
        assert lines(order) == before


def test_a_deposit_is_a_share_of_the_total_half_up(unit, order, press):
    # 25 % of 324.00 is 81.00; of 324.02 it is 81.005: half up.
    assert totals.sums(order).deposit_minor == 8100
    assert totals.deposit_of(unit, 32402) == 8101
    assert totals.deposit_of(unit, -32402) == 0
    take_payment(
        order,
        amount_minor=5000,
        method="cash",
        received_on=press()["at"].date() - timedelta(days=1),
        **press(),
    )
    assert totals.sums(order).deposit_left_minor == 3100
