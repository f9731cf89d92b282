"""Each button and form of an order asks a person's six questions.

Works and leaves one event; other methods are refused; a stranger finds nothing; a helper without
the right is kept out; the wrong moment changes nothing and says why; the same key twice is one.
"""

import uuid
from dataclasses import dataclass
from types import SimpleNamespace

import pytest
from django.utils import timezone

from orders.invoices.actions import credit_invoice, issue_invoice
from orders.order.actions import add_reduction, drop_line
from orders.payments.actions import release_on_account, reverse_payment, take_payment
from studio.jobs.models import Job
from studio.stages import Stage
from tests.parts.markup import folded


@dataclass(frozen=True)
class Errand:
    """An action on the page: how the scene is set, what is sent, and when it is refused."""

    name: str
    path: str
    fields: dict
    wrong: str
    says: str
    before: tuple = ()
    form: bool = True
    helper_may: bool = False

    def __str__(self):
        return self.name


def invoice(scene):
    scene.paper = issue_invoice(scene.order, **scene.press())


def credit(scene):
    credit_invoice(scene.paper, why="Wrong.", **scene.press())


def pay(scene):
    scene.payment = take_payment(
        scene.order,
        amount_minor=5000,
        method="cash",
        received_on=timezone.localdate(),
        **scene.press(),
    )


def reverse(scene):
    reverse_payment(scene.payment, why="Slip.", **scene.press())


def reduce(scene):
    add_reduction(scene.order, label="Gift", amount_minor=32400, **scene.press())
    scene.line = scene.order.lines.get(label="Gift")


def small_gift(scene):
    add_reduction(scene.order, label="Gift", amount_minor=100, **scene.press())
    scene.line = scene.order.lines.get(label="Gift")


def drop_gift(scene):
    drop_line(scene.order, line_pk=scene.line.pk, **scene.press())


def release(scene):
    release_on_account(scene.order, why="Friday.", **scene.press())


def ready(scene):
    Job.objects.filter(pk=scene.job.pk).update(stage=Stage.READY)


def close(scene):
    Job.objects.filter(pk=scene.job.pk).update(stage=Stage.HANDED_OVER)


WHEN = {
    "invoiced": invoice,
    "credited": credit,
    "reversed": reverse,
    "no longer overpaid": drop_gift,
    "free": reduce,
    "released": release,
    "closed": close,
}

ERRANDS = [
    Errand("price_job", "order/price/", {}, "invoiced", "INV-0001 stands", form=False),
    Errand("price_anew", "order/price-anew/", {}, "invoiced", "INV-0001 stands", form=False),
    Errand(
        "choose_look",
        "order/look/",
        {"seen_version": "1", "backing": "{felt}", "finish": ""},
        "invoiced",
        "INV-0001 stands",
    ),
    Errand(
        "add_extra",
        "order/extra/",
        {"price": "{plate}", "quantity": "2"},
        "invoiced",
        "INV-0001 stands",
    ),
    Errand(
        "add_reduction",
        "order/reduction/",
        {"label": "Friends", "amount_minor": "£10"},
        "invoiced",
        "INV-0001 stands",
    ),
    Errand(
        "drop_line",
        "order/lines/{line}/drop/",
        {},
        "invoiced",
        "INV-0001 stands",
        before=(small_gift,),
        form=False,
    ),
    Errand(
        "take_payment",
        "order/payment/",
        {"amount_minor": "81.00", "method": "card", "received_on": "{today}"},
        "free",
        "Nothing is left to pay",
    ),
    Errand(
        "reverse_payment",
        "order/payments/{payment}/reverse/",
        {"why": "The card failed."},
        "reversed",
        "reversed already",
        before=(pay,),
    ),
    Errand(
        "pay_back",
        "order/pay-back/",
        {
            "amount_minor": "50",
            "method": "transfer",
            "paid_on": "{today}",
            "why": "A gift after all.",
        },
        "no longer overpaid",
        "has not paid more",
        before=(pay, reduce),
    ),
    Errand("issue_invoice", "order/invoice/", {}, "invoiced", "INV-0001 stands", form=False),
    Errand(
        "credit_invoice",
        "/invoices/INV-0001/credit/",
        {"why": "The address was wrong."},
        "credited",
        "CRN-0001 has cancelled it",
        before=(invoice,),
    ),
    Errand(
        "release_on_account", "order/release/", {"why": "Friday."}, "released", "released already"
    ),
    Errand(
        "hand_over",
        "hand-over/",
        {"seen": "ready", "how": "collected"},
        "closed",
        "already at “Handed over”",
        before=(ready, release),
        form=False,
        helper_may=True,
    ),
    Errand(
        "call_off",
        "call-off/",
        {"seen": "booked", "why": "They moved away."},
        "closed",
        "already at “Handed over”",
    ),
]

each = pytest.mark.parametrize("errand", ERRANDS, ids=str)


@pytest.fixture
def scene(job, look, press):
    """What an errand's address and fields may name."""
    return SimpleNamespace(job=job, order=job.order, press=press, look=look, key=str(uuid.uuid4()))


def set_the_scene(scene, errand):
    for step in errand.before:
        step(scene)
    names = {
        "line": getattr(scene, "line", None) and scene.line.pk,
        "payment": getattr(scene, "payment", None) and scene.payment.pk,
        "felt": scene.look.backing.pk,
        "plate": scene.look.all["Engraved plate"].pk,
        "today": timezone.localdate().isoformat(),
    }
    path = errand.path.format(**names)
    url = path if path.startswith("/") else f"/jobs/{scene.job.display_reference}/{path}"
    fields = {name: value.format(**names) for name, value in errand.fields.items()}
    return url, fields | {"key": scene.key}


def events(job, errand):
    what = "move" if errand.name in ("hand_over", "call_off") else errand.name
    return job.events.filter(what=what).exclude(to_stage="")


def books(order):
    """Everything that the actions may change."""
    order.refresh_from_db()
    return (
        [line.pk for line in order.lines.all()],
        list(order.payments.values_list("pk", flat=True)),
        list(order.invoices.values_list("pk", flat=True)),
        order.frame.version,
        order.settled,
        order.released_at,
        Job.objects.get(pk=order.job_id).stage,
    )


@each
def test_it_works_and_leaves_one_event(scene, owner, errand):
    url, fields = set_the_scene(scene, errand)
    count, before = events(scene.job, errand).count(), books(scene.order)
    answer = owner.post(url, fields)
    assert answer.status_code == 302, folded(answer.content.decode())
    assert events(scene.job, errand).count() == count + 1
    if not errand.name.startswith("price"):
        assert books(scene.order) != before
    assert owner.get(answer["Location"]).status_code == 200


@each
def test_the_same_key_twice_is_one(scene, owner, errand):
    url, fields = set_the_scene(scene, errand)
    assert owner.post(url, fields).status_code == 302
    count, after = events(scene.job, errand).count(), books(scene.order)
    assert owner.post(url, fields).status_code == 302
    assert events(scene.job, errand).count() == count
    assert books(scene.order) == after


@each
def test_a_button_answers_no_get_and_a_form_shows_itself(scene, owner, errand):
    url, _ = set_the_scene(scene, errand)
    before = books(scene.order)
    answer = owner.get(url)
    assert answer.status_code == (200 if errand.form else 405)
    assert books(scene.order) == before


@each
def test_a_stranger_finds_nothing(scene, stranger, errand):
    url, fields = set_the_scene(scene, errand)
    before = books(scene.order)
    assert stranger.post(url, fields).status_code == 404
    assert books(scene.order) == before


@each
def test_a_helper_is_kept_out_of_what_is_the_owners(scene, helper, errand):
    url, fields = set_the_scene(scene, errand)
    before = books(scene.order)
    assert helper.post(url, fields).status_code == (302 if errand.helper_may else 403)
    assert (books(scene.order) != before) is errand.helper_may


@each
def test_the_wrong_moment_changes_nothing_and_says_why(scene, owner, errand):
    url, fields = set_the_scene(scene, errand)
    WHEN[errand.wrong](scene)
    before, count = books(scene.order), scene.job.events.count()
    answer = owner.post(url, fields)
    assert answer.status_code == 409
    assert errand.says in folded(answer.content.decode())
    assert books(scene.order) == before
    assert scene.job.events.count() == count


@each
def test_a_broken_key_is_a_sentence_and_not_a_fault(scene, owner, errand):
    url, fields = set_the_scene(scene, errand)
    before = books(scene.order)
    answer = owner.post(url, fields | {"key": "no-key"})
    assert answer.status_code == (422 if errand.form or errand.fields else 409)
    assert "press again" in folded(answer.content.decode())
    assert books(scene.order) == before


@pytest.mark.parametrize(
    ("path", "fields", "words"),
    [
        ("order/payment/", {"amount_minor": ""}, "Write an amount."),
        ("order/payment/", {"received_on": ""}, "This is still needed."),
        ("order/payment/", {"method": ""}, "Say how it was paid."),
        ("order/payment/", {"amount_minor": "lots"}, "Type an amount of money, like £85.00."),
        ("order/payment/", {"amount_minor": "1.005"}, "at most 2 decimals"),
        ("order/payment/", {"received_on": "31.02.2026"}, "Enter a valid date"),
        ("order/payment/", {"method": "shells"}, "Select a valid choice"),
        ("order/extra/", {"quantity": "0"}, "greater than or equal to 1"),
        ("order/extra/", {"price": "999999"}, "Select a valid choice"),
        ("order/look/", {"backing": "999999"}, "Select a valid choice"),
        ("order/reduction/", {"label": ""}, "Write what it is for."),
        ("hand-over/", {"seen": "melted"}, "Select a valid choice"),
        ("call-off/", {"why": ""}, "Write why it is called off."),
    ],
)
def test_a_bad_form_comes_back_filled(scene, owner, path, fields, words):
    good = {
        "amount_minor": "5",
        "method": "card",
        "received_on": timezone.localdate().isoformat(),
        "price": scene.look.all["Engraved plate"].pk,
        "quantity": "1",
        "label": "Friends",
        "seen_version": "1",
        "seen": "booked",
        "how": "collected",
        "why": "They moved away.",
        "key": scene.key,
    }
    before = books(scene.order)
    answer = owner.post(f"/jobs/{scene.job.display_reference}/{path}", good | fields)
    text = folded(answer.content.decode())
    assert answer.status_code == 422
    assert words in text
    assert "What you typed is still here" in text
    assert books(scene.order) == before


def test_calling_off_a_paid_job_asks_what_is_kept(scene, owner):
    url = f"/jobs/{scene.job.display_reference}/call-off/"
    assert "Keep of the" not in folded(owner.get(url).content.decode())
    pay(scene)
    assert "Keep of the £50.00 paid" in folded(owner.get(url).content.decode())
    sent = {"seen": "booked", "why": "They moved away.", "key": scene.key, "keep_minor": "20"}
    assert owner.post(url, sent).status_code == 302
    assert [line.unit_minor for line in scene.order.lines.all()] == [2000]
