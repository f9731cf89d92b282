"""Entries made on a tablet, as they arrived."""

from django.db import models
from django.db.models import Q

from studio.accounts.models import Unit, User
from studio.tablet import querysets


class TabletEntry(models.Model):
    """One entry made on a tablet, as it arrived, with its result.

    Rows are only added; later only their settling is changed.
    """

    class State(models.TextChoices):
        KEPT = "kept", "taken in"
        REFUSED = "refused", "not taken in"
        CONFLICT = "conflict", "somebody else said otherwise"
        SETTLED = "settled", "settled"

    class Choice(models.TextChoices):
        MINE = "mine", "what the tablet says"
        THEIRS = "theirs", "what stands"
        LATER = "later", "said anew"

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="tablet_entries")
    device = models.UUIDField()
    # The device's own count, from 1; None if it used a number twice.
    seq = models.PositiveIntegerField(null=True, blank=True)
    key = models.UUIDField()
    kind = models.CharField(max_length=20)
    # As sent by the tablet: there may be no such sitting.
    sitting = models.BigIntegerField(null=True, blank=True)
    facts = models.JSONField()
    seen = models.PositiveIntegerField(null=True, blank=True)
    said_at = models.DateTimeField(help_text="By the tablet's clock.")
    at = models.DateTimeField(help_text="The same moment by our clock.")
    received_at = models.DateTimeField()
    # Who was logged in when it arrived, and is responsible; and who made it, according to the tablet.
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    tapped_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    state = models.CharField(max_length=10, choices=State.choices)
    sentence = models.TextField(blank=True)
    theirs = models.JSONField(null=True, blank=True)
    # The row it is about ("print 21"), that row's version afterwards, and whether this entry wrote it.
    subject = models.CharField(max_length=40, blank=True)
    version = models.PositiveIntegerField(null=True, blank=True)
    wrote = models.BooleanField(default=False)
    choice = models.CharField(max_length=10, choices=Choice.choices, blank=True)
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    objects = querysets.TabletEntryQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "tablet entries"
        constraints = [
            models.UniqueConstraint(fields=["unit", "key"], name="tablet_entry_key_once"),
            models.UniqueConstraint(fields=["unit", "device", "seq"], name="tablet_entry_seq_once"),
            models.CheckConstraint(
                condition=Q(state="settled", settled_at__isnull=False)
                | (~Q(state="settled") & Q(settled_at=None)),
                name="tablet_entry_settled_has_time",
            ),
        ]
        indexes = [
            models.Index(fields=["unit", "device", "subject"], name="tablet_entry_of_device"),
            # Only the few entries that wait for a person.
            models.Index(
                fields=["unit", "sitting"],
                name="tablet_entry_unsettled",
                condition=Q(state__in=("refused", "conflict")),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.key}: {self.state}"

    @property
    def said_by(self) -> str:
        """Who made the entry, according to the tablet, and who sent it if that was somebody else."""
        if self.tapped_by is None or self.tapped_by == self.by:
            return str(self.by)
        return f"{self.tapped_by} (sent by {self.by})"

    @property
    def waits(self) -> bool:
        """Whether a person still has to resolve it."""
        return self.state in (self.State.REFUSED, self.State.CONFLICT)
