"""What orders takes in from a tablet: the look, the deposit and its undoing; and what it takes along."""

import uuid
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from orders.invoices.actions import credit_invoice, issue_invoice
from orders.order import totals
from orders.order.actions import choose_look, price_job
from orders.order.models import Order
from orders.payments.models import Payment
from studio.jobs.models import JobEvent
from studio.tablet.models import TabletEntry
from tests import makers
from tests.makers import details
from tests.studio.tablet.sending import Tablet

pytestmark = pytest.mark.django_db


@pytest.fixture
def held(unit, owner):
    """A sitting of two hands, priced: £199.00 without a look."""
    makers.prices(unit)
    return makers.a_job(unit, pieces=2, by=owner.user).sittings.get()


@pytest.fixture
def order(held):
    return held.job.order


@pytest.fixture
def tablet(owner):
    return Tablet(owner)


@pytest.fixture
def partner(unit):
    """Another owner of the same studio, on another tablet."""
    from tests.conftest import _logged_in  # noqa: PLC0415

    return Tablet(_logged_in(unit, "owner"))


def price(order, label):
    return order.price_list.prices.get(label=label)


def look(tablet, held, order, backing="Chalk linen", finish="Waxed oak", *, seen=1, **facts):
    said = {
        "backing": price(order, backing).pk if backing else None,
        "finish": price(order, finish).pk if finish else None,
        "plate_words": "",
        "layout_words": "",
    }
    return tablet.entry("look", held, said | facts, seen=seen)


def deposit(tablet, held, amount_minor=4975, method="card", **more):
    return tablet.entry("deposit", held, {"amount_minor": amount_minor, "method": method}, **more)


def undo(tablet, held, entry):
    return tablet.entry("deposit_undo", held, {"of": entry["key"]})


def fresh(order):
    return Order.objects.get(pk=order.pk)


class TestTheLook:
    def test_it_is_chosen_with_its_words(self, tablet, held, order, owner):
        words = {"plate_words": "Ada, 2026", "layout_words": "All in one row"}
        [answer] = tablet.send(look(tablet, held, order, "Deep blue felt", "Limed oak", **words))
        chosen = fresh(order)
        assert (answer["state"], answer["version"]) == ("kept", chosen.frame.version)
        assert (chosen.frame.backing.name, chosen.frame.finish.name) == (
            "Deep blue felt",
            "Limed oak",
        )
        assert (chosen.frame.plate_words, chosen.frame.layout_words) == (
            "Ada, 2026",
            "All in one row",
        )
        assert totals.sums(chosen).total_minor == 19900 + 1200 + 1500
        event = JobEvent.objects.get(job=held.job, what="choose_look")
        assert (details(event), event.by) == (
            "Deep blue felt, Limed oak, Ada, 2026, All in one row",
            owner.user,
        )

    def test_the_same_key_twice_is_one_choice(self, tablet, held, order):
        entry = look(tablet, held, order)
        assert tablet.send(entry) == tablet.send(entry)
        assert JobEvent.objects.filter(job=held.job, what="choose_look").count() == 1

    def test_ones_own_second_choice_is_no_conflict(self, tablet, held, order):
        answers = tablet.send(
            look(tablet, held, order), look(tablet, held, order, finish="Limed oak"), look(tablet, held, order, None, None)
        )  # fmt: skip
        assert [answer["state"] for answer in answers] == ["kept"] * 3
        assert (fresh(order).frame.backing, fresh(order).frame.finish) == (None, None)

    def test_what_the_family_chose_meanwhile_is_shown(self, tablet, held, order):
        choose_look(
            order, backing=price(order, "Deep blue felt"), finish=None, seen_version=order.frame.version,
            by=None, at=timezone.now(), key=uuid.uuid4(),
        )  # fmt: skip
        [answer] = tablet.send(look(tablet, held, order))
        assert (answer["state"], answer["theirs_words"]) == ("conflict", "Deep blue felt")
        assert fresh(order).frame.backing.name == "Deep blue felt"
        assert tablet.choose(answer, "mine").json()["state"] == "settled"
        assert fresh(order).frame.backing.name == "Chalk linen"

    def test_two_who_choose_the_same_agree(self, tablet, partner, held, order):
        assert tablet.send(look(tablet, held, order))[0]["state"] == "kept"
        assert partner.send(look(partner, held, order))[0]["state"] == "kept"
        assert JobEvent.objects.filter(job=held.job, what="choose_look").count() == 1

    def test_a_late_choice_never_undoes_a_later_one(self, tablet, held, order):
        first, second = look(tablet, held, order), look(tablet, held, order, finish="Limed oak")
        tablet.send(second)
        assert tablet.send(first)[0]["sentence"] == "A later choice of yours stands."
        assert fresh(order).frame.finish.name == "Limed oak"

    def test_a_price_of_another_list_or_kind_is_refused(self, tablet, held, order, stranger):
        elsewhere = makers.prices(stranger.user.memberships.get().unit).prices
        for facts in (
            {"backing": elsewhere.get(label="Chalk linen").pk},
            {"backing": price(order, "Limed oak").pk},
            {"finish": 10**6},
            {"finish": "oak"},
            {"plate_words": "x" * 201},
        ):
            entry = look(tablet, held, order)
            entry["facts"] |= facts
            assert tablet.send(entry)[0]["state"] == "refused"
        assert fresh(order).frame.version == order.frame.version

    def test_the_desk_shows_the_words_and_may_change_them(self, tablet, held, order, owner, helper):
        tablet.send(look(tablet, held, order, plate_words="Ada, 2026", layout_words="In a square"))
        job = reverse("studio:job", args=[held.job.reference])
        for page in (owner.get(order.get_absolute_url()), owner.get(job), helper.get(job)):
            assert "Ada, 2026" in page.content.decode()
            assert "In a square" in page.content.decode()
        url = reverse("orders:choose_look", args=[held.job.reference])
        form = owner.get(url).context["form"]
        sent = {name: form[name].value() or "" for name in form.fields}
        stale = sent | {"key": uuid.uuid4(), "seen_version": 1, "plate_words": "Ada"}
        refused = owner.post(url, stale)
        assert (refused.status_code, "Ada, 2026" in refused.content.decode()) == (409, True)
        assert owner.post(url, sent | {"plate_words": "Ada"}).status_code == 302
        assert (fresh(order).frame.plate_words, fresh(order).frame.layout_words) == (
            "Ada",
            "In a square",
        )
        assert fresh(order).frame.backing.name == "Chalk linen"

    def test_once_it_is_invoiced_it_stands(self, tablet, held, order, owner):
        issue_invoice(order, by=owner.user, at=timezone.now(), key=uuid.uuid4())
        [answer] = tablet.send(look(tablet, held, order))
        assert (answer["state"], "Invoice" in answer["sentence"]) == ("refused", True)

    def test_a_job_without_a_price_waits_for_one(self, tablet, unit, owner):
        held = makers.a_job(unit, pieces=1, by=owner.user).sittings.get()
        said = {"backing": None, "finish": None, "plate_words": "Bo", "layout_words": ""}
        [answer] = tablet.send(tablet.entry("look", held, said, seen=1))
        assert (answer["state"], "no price yet" in answer["sentence"]) == ("refused", True)
        makers.prices(unit)
        price_job(held.job, by=owner.user, at=timezone.now(), key=uuid.uuid4())
        assert tablet.choose(answer, "mine").json()["state"] == "settled"
        assert held.job.order.frame.plate_words == "Bo"


class TestTheDeposit:
    def test_it_is_in_the_books_on_the_day_it_was_said(self, tablet, held, order, owner):
        tablet.send(deposit(tablet, held, minutes_ago=60 * 24 * 3))
        paid = Payment.objects.get()
        assert (paid.amount_minor, paid.method, paid.by) == (4975, "card", owner.user)
        assert paid.received_on == timezone.localdate(timezone.now() - timedelta(days=3))

    def test_the_same_key_twice_is_one_payment(self, tablet, held):
        entry = deposit(tablet, held)
        assert tablet.send(entry, entry) == tablet.send(entry, entry)
        assert Payment.objects.count() == 1

    def test_the_same_key_with_another_sum_is_told_and_not_taken(self, tablet, held):
        entry = deposit(tablet, held)
        tablet.send(entry)
        other = {**entry, "facts": {"amount_minor": 9900, "method": "cash"}}
        [answer] = tablet.send(other)
        assert (answer["state"], answer["resolve"]) == ("conflict", None)
        assert answer["theirs_words"] == "£49.75, card"
        assert [row.amount_minor for row in Payment.objects.all()] == [4975]

    @pytest.mark.parametrize(
        "facts",
        [{"amount_minor": 0}, {"amount_minor": 19901}, {"amount_minor": "50"}, {"amount_minor": 2**31},
         {"method": "shells"}, {"method": None}],
    )  # fmt: skip
    def test_what_makes_no_sense_is_refused(self, tablet, held, facts):
        entry = deposit(tablet, held)
        entry["facts"] |= facts
        assert tablet.send(entry)[0]["state"] == "refused"
        assert Payment.objects.count() == 0

    def test_it_can_be_undone_once(self, tablet, held, order):
        taken = deposit(tablet, held)
        answers = tablet.send(taken, undo(tablet, held, taken), undo(tablet, held, taken))
        assert [answer["state"] for answer in answers] == ["kept"] * 3
        assert totals.sums(order).paid_minor == 0
        assert sorted(row.amount_minor for row in Payment.objects.all()) == [-4975, 4975]

    def test_one_that_was_refused_is_forgotten_when_undone(self, tablet, held):
        taken = deposit(tablet, held, amount_minor=99999)
        assert tablet.send(taken)[0]["state"] == "refused"
        assert tablet.send(undo(tablet, held, taken))[0]["state"] == "kept"
        assert tablet.send(taken)[0]["state"] == "settled"
        assert not TabletEntry.objects.unsettled().exists()
        assert Payment.objects.count() == 0

    def test_a_deposit_that_is_not_there_cannot_be_undone(self, tablet, held, unit, owner):
        other = makers.a_job(unit, pieces=1, by=owner.user).sittings.get()
        elsewhere = deposit(tablet, other, amount_minor=100)
        tablet.send(elsewhere)
        answers = tablet.send(
            undo(tablet, held, elsewhere),
            tablet.entry("deposit_undo", held, {"of": str(uuid.uuid4())}),
            tablet.entry("deposit_undo", held, {"of": "that"}),
        )
        assert [answer["state"] for answer in answers] == ["refused"] * 3
        assert Payment.objects.count() == 1


def test_money_and_the_look_are_the_owners(helper, partner, held, order):
    tablet = Tablet(helper)
    taken = deposit(tablet, held)
    answers = tablet.send(look(tablet, held, order), taken, undo(tablet, held, taken))
    assert [answer["state"] for answer in answers] == ["refused"] * 3
    assert "owner" in answers[0]["sentence"]
    assert (Payment.objects.count(), fresh(order).frame.version) == (0, order.frame.version)
    # The owner may take it in from the desk; the helper may not by trying again.
    assert tablet.choose(answers[1], "mine").json()["state"] == "refused"
    assert partner.choose(answers[1], "mine").json()["state"] == "settled"
    assert Payment.objects.get().amount_minor == 4975


def test_a_strangers_order_is_not_there(stranger, held, order):
    tablet = Tablet(stranger)
    answers = tablet.send(look(tablet, held, order), deposit(tablet, held))
    assert {answer["sentence"] for answer in answers} == {"This sitting is not in your diary."}
    assert (Payment.objects.count(), fresh(order).frame.version) == (0, order.frame.version)


class TestThePack:
    def test_it_tells_the_price_and_the_deposit(self, tablet, held, order):
        tablet.send(look(tablet, held, order, "Deep blue felt", plate_words="Ada"))
        tablet.send(deposit(tablet, held, amount_minor=1000))
        money = tablet.pack()["money"]
        told = money["orders"][held.job.reference]
        sums = totals.sums(fresh(order))
        assert told["base_minor"] == 19900
        assert (
            (told["total_minor"], told["paid_minor"]) == (sums.total_minor, 1000) == (21100, 1000)
        )
        assert told["deposit_left_minor"] == sums.deposit_left_minor == 5275 - 1000
        assert (told["plate_words"], told["can_choose"]) == ("Ada", True)
        assert told["version"] == fresh(order).frame.version
        looks = money["lists"][str(order.price_list_id)]
        assert [each["label"] for each in looks["backings"]] == ["Chalk linen", "Deep blue felt"]
        assert [each["amount_minor"] for each in looks["finishes"]] == [0, 1500]

    @pytest.mark.parametrize("credited", [False, True])
    def test_an_invoice_that_stands_closes_the_choice(self, tablet, held, order, owner, credited):
        who = {"by": owner.user, "at": timezone.now()}
        invoice = issue_invoice(order, key=uuid.uuid4(), **who)
        if credited:
            credit_invoice(invoice, why="A slip.", key=uuid.uuid4(), **who)
        told = tablet.pack()["money"]["orders"][held.job.reference]
        assert told["can_choose"] is totals.can_choose(order.job) is credited

    def test_what_comes_next_is_told(self, tablet, held, order):
        def next_step():
            return tablet.pack()["money"]["orders"][held.job.reference]["next_step"]

        assert next_step().startswith("Ask for the deposit")
        tablet.send(deposit(tablet, held))
        assert next_step() == "The rest is due when it is ready."
        tablet.send(deposit(tablet, held, amount_minor=19900 - 4975))
        assert next_step().startswith("It is paid.")

    def test_a_job_without_a_price_is_left_out(self, tablet, unit, owner):
        makers.a_job(unit, pieces=1, by=owner.user)
        assert tablet.pack()["money"]["orders"] == {}
