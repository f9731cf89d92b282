"""Signals of the sittings, sent inside the transaction of the change."""

from django.dispatch import Signal

# Sent with `sitting`, `by`, `at` and `key`: its prints are in the clay now, or no longer count.
sitting_finished = Signal()
sitting_reopened = Signal()

# Sent with `print`, `by`, `at` and `key` when a print in the clay is spoiled.
print_lost = Signal()
