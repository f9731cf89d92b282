"""Prices by size and distance, discounts, second casts, and the price that a family accepted."""

import uuid
from datetime import date
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from bookings.enquiries.actions import answer_with_family, take_enquiry
from orders.family_page.family_order import look_choices
from orders.invoices.actions import issue_invoice
from orders.order.actions import (
    add_delivery,
    add_discount,
    add_extra,
    add_reduction,
    choose_look,
    drop_line,
    price_job,
    reprice,
)
from orders.order.totals import balance_of
from orders.prices.actions import add_price, make_price_list, set_bands
from orders.prices.models import Price
from orders.quotes.actions import accept_quote
from orders.quotes.models import Quote
from production.frames import actions as frames
from production.frames.job_frames import inside_size
from studio.jobs.actions import leave_off_piece, open_job
from studio.limbs import Limb
from studio.stages import ActionRefused, MoveRefused, Stage
from tests import makers
from tests.parts.markup import folded


@pytest.fixture
def more(unit):
    """The makers' list with steps by size, a delivery by distance, second casts and discounts."""
    prices = makers.prices(unit)
    facts = {"pieces": 0, "one_child": False, "percent": None, "given": ""}
    made = {}
    for name, kind, amount_minor, extra in (
        ("home", "delivery", 0, {}),
        ("copy", "copy", 6000, {}),
        ("friend", "discount", 1000, {}),
        ("returning", "discount", 0, {"percent": Decimal(10), "given": "returning"}),
        ("fair", "discount", 0, {"percent": Decimal("7.5"), "given": "fair"}),
    ):
        row = {"kind": kind, "label": name, "amount_minor": amount_minor, **facts, **extra}
        made[name] = add_price(prices, facts=row)
    set_bands(made["home"], bands=[(5, 0), (20, 900), (60, 2500)])
    made["limed"] = prices.prices.get(label="Limed oak")
    set_bands(made["limed"], bands=[(300, 1500), (450, 2400)])
    return made


SIDES = {"width_mm": 200, "height_mm": 200}


def sized(order, longest_mm, press):
    """Choose a frame of this longest side, and read the order anew."""
    version = order.frame.version
    sides = {"width_mm": longest_mm, "height_mm": 200}
    frames.choose_frame(order.job, facts=sides, seen_version=version, **press())
    order.refresh_from_db()


def fresh(order):
    return type(order).objects.get(pk=order.pk)


def line(order, label):
    return order.lines.get(label__endswith=label)


class TestSizes:
    def test_the_frame_is_priced_by_its_longest_side(self, more, order, press):
        choose_look(order, backing=None, finish=more["limed"], seen_version=1, **press())
        assert line(order, "Limed oak").unit_minor == 1500
        assert "not known yet" in line(order, "Limed oak").explanations[0]
        sized(order, 400, press)
        assert line(order, "Limed oak").unit_minor == 2400
        assert line(order, "Limed oak").explanations == ["400 mm: the step up to 450 mm."]
        assert order.frame.version == 3
        assert balance_of(order) == 32400 + 2400
        assert order.job.events.get(what="size_frame").details({}) == "400 mm"

    def test_a_frame_beyond_the_steps_changes_nothing_and_says_so(self, more, order, press):
        choose_look(order, backing=None, finish=more["limed"], seen_version=1, **press())
        sized(order, 451, press)
        assert order.frame_mm is None
        assert line(order, "Limed oak").unit_minor == 1500
        with pytest.raises(ActionRefused, match=r"Limed oak.*goes up to 450, and this is 451"):
            price_job(order.job, **press())
        assert line(order, "Limed oak").unit_minor == 1500

    def test_the_frame_as_drawn_is_priced_without_a_press(self, more, order, press, unit):
        makers.frame_range(unit)
        order = price_job(order.job, **press())
        assert order.frame_mm == inside_size(order.job, timezone.localdate()).longest_mm

    def test_a_list_without_steps_asks_for_no_size(self, order, press, unit):
        makers.frame_range(unit)
        assert price_job(order.job, **press()).frame_mm is None
        sized(order, 400, press)
        assert order.frame_mm is None

    def test_the_prints_that_are_in_the_clay_are_priced_at_their_size(
        self, more, unit, owner, press, monkeypatch
    ):
        job = makers.a_job(unit, pieces=2, by=owner.user)
        assert job.order.frame_mm is None
        makers.frame_range(unit)
        makers.take_prints(job, owner.user, timezone.now())
        order = fresh(job.order)
        assert order.frame_mm == inside_size(order.job, timezone.localdate()).longest_mm

    def test_a_size_chosen_twice_by_the_same_press_is_priced_once(self, more, order, press):
        once = press()
        sized(order, 200, lambda: once)
        frames.choose_frame(order.job, facts=SIDES | {"width_mm": 300}, seen_version=1, **once)
        order.refresh_from_db()
        assert order.frame_mm == 200
        assert order.job.events.filter(what="size_frame").count() == 1

    def test_an_accepted_price_and_an_invoice_hold_it(self, more, order, press, owner):
        sized(order, 200, press)
        accept_quote(order, how="phone", **press())
        sized(order, 400, press)
        assert order.frame_mm == 200
        page = folded(owner.get(order.get_absolute_url()).content.decode())
        assert "The frame is 400 × 200 mm inside" in page
        assert "and priced at 200 mm" in page
        assert "Price it again" in page
        order = price_job(order.job, **press())  # said by the owner
        assert order.frame_mm == 400
        assert "Price it again" not in owner.get(order.get_absolute_url()).content.decode()

    def test_an_invoice_holds_it(self, more, order, press):
        issue_invoice(order, **press())
        sized(order, 400, press)
        assert order.frame_mm is None

    def test_steps_are_copied_to_a_new_list_and_fixed_once_used(self, more, order, unit):
        newer = make_price_list(unit, valid_from=date(2031, 1, 1), copy_of=order.price_list)
        copied = newer.prices.get(label="Limed oak")
        assert [band.up_to for band in copied.bands.all()] == [300, 450]
        assert newer.prices.get(label="returning").percent == 10
        set_bands(copied, bands=[])
        assert not copied.bands.exists()
        with pytest.raises(ActionRefused, match="Orders were priced on this list"):
            set_bands(more["limed"], bands=[])

    @pytest.mark.parametrize(
        ("label", "bands", "words"),
        [
            ("Limed oak", [(300, 1), (300, 2)], "end at the same size"),
            ("Engraved plate", [(300, 1)], "Only backings, frames and deliveries"),
        ],
    )
    def test_steps_that_make_no_sense(self, unit, label, bands, words):
        price = makers.prices(unit).prices.get(label=label)
        with pytest.raises(ActionRefused, match=words):
            set_bands(price, bands=bands)


class TestDelivery:
    @pytest.mark.parametrize(("km", "price_minor"), [(0, 0), (5, 0), (6, 900), (60, 2500)])
    def test_by_distance(self, more, order, press, km, price_minor):
        add_delivery(order, price=more["home"], km=km, **press())
        assert line(order, "home").unit_minor == price_minor

    def test_the_new_one_takes_the_place_of_the_old(self, more, order, press):
        for km in (3, 30):
            add_delivery(order, price=more["home"], km=km, **press())
        assert [row.unit_minor for row in order.lines.filter(label="home")] == [2500]
        assert " ".join(line(order, "home").explanations) == "30 km: the step up to 60 km."

    @pytest.mark.parametrize(("km", "words"), [(None, "write how many km"), (61, "goes up to 60")])
    def test_a_distance_is_needed_and_within_the_list(self, more, order, press, km, words):
        with pytest.raises(ActionRefused, match=words):
            add_delivery(order, price=more["home"], km=km, **press())
        assert not order.lines.filter(label="home").exists()


class TestCopies:
    def test_one_second_cast_of_each_mould(self, more, order, press):
        add_extra(order, price=more["copy"], quantity=2, **press())
        with pytest.raises(ActionRefused, match="The job has 3 moulds"):
            add_extra(order, price=more["copy"], quantity=2, **press())
        add_extra(order, price=more["copy"], quantity=1, **press())
        assert balance_of(order) == 32400 + 3 * 6000


def earlier_job(family, press):
    wanted = [(family.children.get(), Limb.LEFT_HAND)]
    job = open_job(family, wanted=wanted, promised_on=None, **press())
    type(job).objects.filter(pk=job.pk).update(stage=Stage.HANDED_OVER)


def next_job(family, press, pieces=2):
    wanted = [(family.children.get(), limb) for limb in list(Limb)[:pieces]]
    return open_job(family, wanted=wanted, promised_on=None, **press())


class TestDiscounts:
    def test_a_family_that_comes_again_has_its_discount_without_asking(self, more, unit, press):
        family = makers.a_family(unit)
        earlier_job(family, press)
        order = next_job(family, press).order
        assert [(row.label, row.unit_minor) for row in order.lines.all()] == [
            ("Pair of casts, framed", 19900),
            ("returning", -1990),
        ]
        assert line(order, "returning").explanations == [
            "10 % of £199.00, to the penny.",
            "This family has had casts before.",
        ]

    def test_a_family_that_asked_at_a_fair_has_its_own(self, more, unit, press, at):
        family = makers.a_family(unit)
        facts = {"name": "Sam", "phone": "07700 900456", "source": "fair"}
        enquiry = take_enquiry(unit, facts=facts, at=at, key=uuid.uuid4())
        answer_with_family(enquiry, family=family, at=at)
        order = next_job(family, press).order
        # 7.5 % of £199.00 is 1492.5 pence.
        assert line(order, "fair").unit_minor == -1493

    def test_a_first_job_has_none(self, more, order):
        assert not order.lines.filter(price__kind=Price.Kind.DISCOUNT).exists()

    def test_it_follows_the_price_and_stays_dropped(self, more, unit, press):
        family = makers.a_family(unit)
        earlier_job(family, press)
        job = next_job(family, press)
        add_extra(
            job.order, price=job.order.price_list.prices.get(kind="extra"), quantity=1, **press()
        )
        assert line(job.order, "returning").unit_minor == -2210
        leave_off_piece(job.pieces.first(), why="Not wanted.", **press())
        assert line(job.order, "returning").unit_minor == -1470
        drop_line(job.order, line_pk=line(job.order, "returning").pk, **press())
        price_job(job, **press())
        assert not job.order.lines.filter(label="returning").exists()

    def test_given_by_hand_once(self, more, order, press):
        add_discount(order, price=more["friend"], **press())
        with pytest.raises(ActionRefused, match="on this order already"):
            add_discount(order, price=more["friend"], **press())
        assert balance_of(order) == 31400

    def test_what_was_taken_off_by_hand_is_not_taken_twice(self, more, order, press):
        add_reduction(order, label="A fault", amount_minor=32000, **press())
        add_discount(order, price=more["friend"], **press())
        assert balance_of(order) == 0

    def test_a_discount_of_another_list_is_refused(self, more, order, unit, press):
        other = make_price_list(unit, valid_from=date(2031, 1, 1), copy_of=order.price_list)
        for price in (other.prices.get(label="friend"), more["copy"]):
            with pytest.raises(ActionRefused, match="not on this order"):
                add_discount(order, price=price, **press())

    def test_the_database_refuses_a_percentage_of_anything_else(self, unit):
        price = makers.prices(unit).prices.get(kind="extra")
        price.percent = 5
        with pytest.raises(IntegrityError), transaction.atomic():
            price.save()


class TestAccepted:
    def test_it_is_kept_as_it_stands_and_later_lists_never_touch_it(self, order, unit, press):
        quote = accept_quote(order, how="phone", **press())
        newer = make_price_list(unit, valid_from=date(2021, 1, 1), copy_of=order.price_list)
        newer.prices.update(amount_minor=99900)
        with pytest.raises(ActionRefused, match="The family accepted its price"):
            reprice(order.job, **press())
        price_job(order.job, **press())
        assert balance_of(order) == quote.total_minor == 32400
        assert [row["label"] for row in quote.content["lines"]] == [
            "Single cast, framed",
            "Pair of casts, framed",
        ]
        assert "single casts would be £375.00" in quote.content["lines"][0]["how"][1]

    def test_a_change_is_accepted_anew_and_the_old_one_stays(self, order, press):
        first = accept_quote(order, how="sitting", **press())
        with pytest.raises(ActionRefused, match="accepted already"):
            accept_quote(order, how="phone", **press())
        leave_off_piece(order.job.pieces.first(), why="Not wanted.", **press())
        second = accept_quote(order, how="written", **press())
        assert [quote.total_minor for quote in order.quotes.all()] == [32400, 19900]
        with pytest.raises(TypeError, match="never edited"):
            first.save()
        with pytest.raises(TypeError, match="never deleted"):
            second.delete()

    def test_the_same_press_twice_is_one(self, order, press):
        once = press()
        assert accept_quote(order, how="phone", **once) == accept_quote(order, how="phone", **once)
        assert Quote.objects.count() == 1
        assert order.job.events.filter(what="accept_quote").count() == 1

    def test_nothing_to_accept(self, order, press):
        add_reduction(order, label="A gift", amount_minor=32400, **press())
        with pytest.raises(ActionRefused, match="comes to nothing"):
            accept_quote(order, how="phone", **press())
        type(order.job).objects.update(stage=Stage.HANDED_OVER)
        with pytest.raises(MoveRefused):
            accept_quote(order, how="phone", **press())


ERRANDS = [
    ("delivery", {"price": "home", "km": "12"}, "delivery is on the order"),
    ("discount", {"price": "friend"}, "discount is on the order"),
    ("accept", {"how": "phone"}, "accepted price is kept"),
]


class TestPages:
    def sent(self, more, facts):
        return {"key": uuid.uuid4()} | {
            name: more[value].pk if name == "price" else value for name, value in facts.items()
        }

    @pytest.mark.parametrize(("errand", "facts", "words"), ERRANDS)
    def test_an_errand(self, more, order, owner, helper, stranger, errand, facts, words):
        url = f"/jobs/{order.job.display_reference}/order/{errand}/"
        assert owner.get(url).status_code == 200
        assert helper.post(url, self.sent(more, facts)).status_code == 403
        assert stranger.post(url, self.sent(more, facts)).status_code == 404
        empty = owner.post(url, {"key": uuid.uuid4()})
        assert empty.status_code == 422
        answer = owner.post(url, self.sent(more, facts), follow=True)
        assert words in folded(answer.content.decode())

    def test_the_order_says_how_each_price_came_about(self, more, order, owner, press):
        accept_quote(order, how="phone", **press())
        page = folded(owner.get(f"/jobs/{order.job.display_reference}/order/").content.decode())
        assert "How this price came about" in page
        assert "3 single casts would be £375.00" in page
        assert "Accepted by the family" in page
        assert "Charge a delivery" in page
        assert "Say the size of the frame" in page
        assert "the order has changed since" not in page

    def test_a_price_that_changed_after_the_family_accepted_it_says_so(
        self, more, order, owner, press
    ):
        accept_quote(order, how="phone", **press())
        url = f"/jobs/{order.job.display_reference}/order/"
        owner.post(f"{url}delivery/", self.sent(more, {"price": "home", "km": "12"}))
        page = folded(owner.get(url).content.decode())
        assert "; the order has changed since. Its prices hold" in page

    def test_the_steps_of_a_price(self, unit, owner, helper, stranger):
        price = makers.prices(unit).prices.get(label="Limed oak")
        url = f"/money/price/{price.pk}/steps/"
        assert helper.get(url).status_code == 403
        assert stranger.get(url).status_code == 404
        half = owner.post(url, {"up_to_1": "300"})
        assert half.status_code == 422
        assert "Write both, or leave both empty" in folded(half.content.decode())
        assert owner.post(url, {"up_to_1": "300", "amount_1": "15"}).status_code == 302
        assert [(b.up_to, b.amount_minor) for b in price.bands.all()] == [(300, 1500)]
        page = folded(owner.get(f"/money/prices/{price.price_list_id}/").content.decode())
        assert "up to 300 mm £15.00" in page

    def test_a_discount_is_a_percentage_or_an_amount(self, unit, owner):
        price_list = makers.prices(unit)
        url = f"/money/prices/{price_list.pk}/add/"
        sent = {"kind": "discount", "label": "Fair", "percent": "10", "given": "fair"}
        assert owner.post(url, sent).status_code == 302
        made = price_list.prices.get(label="Fair")
        assert (made.percent, made.amount_minor, made.given) == (10, 0, "fair")
        nothing = owner.post(url, {"kind": "discount", "label": "None"})
        assert nothing.status_code == 422
        assert "Write an amount." in folded(nothing.content.decode())
        assert "10 %" in folded(owner.get(f"/money/prices/{price_list.pk}/").content.decode())

    def test_the_family_sees_the_difference_at_its_size(self, more, order, press):
        choose_look(order, backing=None, finish=more["limed"], seen_version=1, **press())
        sized(order, 400, press)
        _, finish = look_choices(order).questions
        assert [(each.label, each.difference) for each in finish.options] == [
            ("Waxed oak", "£24.00 less"),
            ("Limed oak", "chosen so far"),
        ]
