"""A process of its own that issues an invoice for each order it is told, as soon as it is told to begin.

Run by test_issuing.py with a way and the keys of the orders; prints a line for each. The ways:
"plain"; "half" stops for ever between the number and the paper of its third; "unlocked" takes numbers
without holding their row, which is the control.
"""

import sys
import uuid

import django

django.setup()

from django.db import Error  # noqa: E402 - only after the setup
from django.utils import timezone  # noqa: E402

from orders.invoices import actions as invoices_actions  # noqa: E402
from orders.invoices.actions import issue_invoice  # noqa: E402
from orders.invoices.models import Invoice, NumberSeries  # noqa: E402
from orders.order.models import Order  # noqa: E402
from studio.accounts.models import User  # noqa: E402


def say(words):
    sys.stdout.write(f"{words}\n")
    sys.stdout.flush()


def stop_half_way():
    create, calls = Invoice.objects.create, []

    def halt(**facts):
        calls.append(facts)
        if len(calls) == 3:
            say("half")
            sys.stdin.readline()
        return create(**facts)

    Invoice.objects.create = halt


def number_without_lock(unit, prefix):
    NumberSeries.objects.get_or_create(unit=unit, prefix=prefix)
    series = NumberSeries.objects.get(unit=unit, prefix=prefix)
    series.last += 1
    series.save(update_fields=["last"])
    return f"{prefix}{series.last:04}"


way, *keys = sys.argv[1:]
if way == "half":
    stop_half_way()
if way == "unlocked":
    invoices_actions.next_number = number_without_lock
by = User.objects.first()
orders = list(Order.objects.filter(pk__in=keys).select_related("job").order_by("pk"))
say("ready")
sys.stdin.readline()
for order in orders:
    try:
        say(
            issue_invoice(
                order, by=by, at=timezone.now(), key=uuid.uuid5(uuid.NAMESPACE_OID, str(order.pk))
            ).number
        )
    except Error as error:
        say(f"failed: {error}".splitlines()[0])
