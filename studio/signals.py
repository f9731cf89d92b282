"""What the core tells the apps, inside the transaction in which it happens."""

from django.dispatch import Signal

# Sent with `job`, `by` and `at` when a job is opened or a piece is left off it.
pieces_changed = Signal()
