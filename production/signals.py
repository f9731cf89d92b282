"""Signals of production, sent inside the transaction in which it happens."""

from django.dispatch import Signal

# Sent with `job`, `by`, `at` and `key`: the studio has decided moulding, size or layout of its frame.
frame_chosen = Signal()
