"""Invoices issued by several processes at once, and by one that is killed half-way."""

import os
import secrets
import subprocess
import sys
from pathlib import Path

import pytest
from django.db import connection

from orders.invoices.models import Invoice, NumberSeries
from orders.order.models import Order, OrderLine
from studio import references
from studio.jobs.models import Job, JobEvent
from tests import makers
from tests.faults.test_processes import address

ROOT = Path(__file__).resolve().parents[2]
MANY, FEW = 500, 12


def some_orders(count):
    """So many orders of one family, as rows."""
    unit = makers.a_unit()
    makers.owner_of(unit)
    family, prices = makers.a_family(unit), makers.prices(unit)
    jobs = Job.objects.bulk_create(
        Job(
            unit=unit,
            family=family,
            reference=references.new_reference(secrets.choice),
            stage="ready",
        )
        for _ in range(count)
    )
    orders = Order.objects.bulk_create(Order(unit=unit, job=job, price_list=prices) for job in jobs)
    OrderLine.objects.bulk_create(
        OrderLine(order=order, label="A pair of casts", unit_minor=19900) for order in orders
    )
    return [str(order.pk) for order in orders]


def person(way, orders, settings="studio.settings"):
    """A process that waits for its word to begin."""
    return subprocess.Popen(
        [sys.executable, "-m", "tests.faults.issuing", way, *orders],
        cwd=ROOT,
        env={
            **os.environ,
            "DJANGO_SETTINGS_MODULE": settings,
            "DATABASE_URL": address(),
            "DEBUG": "true",
            "PYTHONWARNINGS": "ignore",
        },
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )


def begin(*people):
    for each in people:
        assert each.stdout.readline() == "ready\n"
    for each in people:
        each.stdin.write("go\n")
        each.stdin.flush()


def said(*people):
    return [line for each in people for line in each.communicate()[0].splitlines()]


def kill(one):
    """At once, as the power goes."""
    one.kill()
    one.communicate()


def numbers():
    return sorted(Invoice.objects.values_list("number", flat=True))


def without_gap(count):
    return [f"INV-{number:04}" for number in range(1, count + 1)]


def whole():
    """Every number has its paper, every paper its number, content and event."""
    last = NumberSeries.objects.get().last if NumberSeries.objects.exists() else 0
    assert numbers() == without_gap(last)
    for invoice in Invoice.objects.all():
        assert invoice.content["number"] == invoice.number
        assert invoice.content["total_minor"] == invoice.total_minor == 19900
    events = JobEvent.objects.filter(what="issue_invoice").values_list("facts__number", flat=True)
    assert sorted(events) == numbers()
    return last


@pytest.mark.django_db(transaction=True)
def test_two_processes_issue_five_hundred_without_gap_or_double():
    orders = some_orders(MANY)
    people = [person("plain", orders[::2]), person("plain", orders[1::2])]
    begin(*people)
    answers = said(*people)
    assert sorted(answers) == without_gap(MANY)
    assert whole() == MANY


@pytest.mark.django_db(transaction=True)
def test_both_asked_for_the_same_orders_issue_each_once():
    orders = some_orders(FEW)
    people = [person("plain", orders), person("plain", orders)]
    begin(*people)
    assert sorted(set(said(*people))) == without_gap(FEW)
    assert whole() == FEW


@pytest.mark.django_db(transaction=True)
def test_one_killed_between_number_and_paper_leaves_nothing_of_it():
    orders = some_orders(FEW)
    dying = person("half", orders)
    begin(dying)
    assert [dying.stdout.readline().strip() for _ in range(3)] == ["INV-0001", "INV-0002", "half"]
    kill(dying)
    assert whole() == 2
    after = person("plain", orders)
    begin(after)
    said(after)
    assert whole() == FEW


@pytest.mark.django_db(transaction=True)
def test_one_killed_at_any_moment_leaves_whole_invoices_only():
    orders = some_orders(FEW)
    for lines in (1, 4):
        dying = person("plain", orders)
        begin(dying)
        for _ in range(lines):
            dying.stdout.readline()
        kill(dying)
        assert whole() >= lines
    after = person("plain", orders)
    begin(after)
    said(after)
    assert whole() == FEW


@pytest.mark.skipif(connection.vendor == "sqlite", reason="SQLite lets one write at a time")
@pytest.mark.django_db(transaction=True)
def test_control_without_the_lock_numbers_are_taken_twice():
    orders = some_orders(100)
    people = [person("unlocked", orders[::2]), person("unlocked", orders[1::2])]
    begin(*people)
    assert any(line.startswith("failed") for line in said(*people))


@pytest.mark.skipif(connection.vendor != "sqlite", reason="the unsafe setting is SQLite's")
@pytest.mark.django_db(transaction=True)
def test_control_without_immediate_transactions_some_fail():
    orders = some_orders(100)
    unsafe = "tests.faults.unsafe_settings"
    people = [person("plain", orders[::2], unsafe), person("plain", orders[1::2], unsafe)]
    begin(*people)
    assert any("locked" in line for line in said(*people))
