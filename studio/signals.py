"""Signals of the core, sent inside the transaction of the change."""

from django.dispatch import Signal

# Sent with `job`, `by` and `at` when a job is opened, or a piece is left off it or taken back.
pieces_changed = Signal()
