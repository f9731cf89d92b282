"""One row for each piece of background work."""

from uuid import UUID, uuid5

from django.db import models
from django.db.models import Q
from django.urls import reverse

from studio.work.querysets import WorkQuerySet


class Work(models.Model):
    """One piece of background work. Written only by `studio.work.queue`."""

    class State(models.TextChoices):
        WAITING = "waiting", "Waiting its turn"
        RUNNING = "running", "Being made"
        DONE = "done", "Done"
        FAILED = "failed", "Broke off"

    unit = models.ForeignKey("studio.Unit", on_delete=models.PROTECT, related_name="works")
    # The name under which its function is registered with `@work_kind`.
    kind = models.CharField(max_length=40)
    title = models.CharField(max_length=120)
    facts = models.JSONField(default=dict)
    # None: started by the worker itself.
    by = models.ForeignKey("studio.User", on_delete=models.PROTECT, null=True, related_name="+")
    key = models.UUIDField()
    asked_at = models.DateTimeField()
    started_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=10, choices=State.choices, default=State.WAITING)
    # Number of attempts so far. Only the newest may write, so that a worker taken for dead changes nothing when it
    # wakes up.
    attempts = models.PositiveSmallIntegerField(default=0)
    done = models.PositiveIntegerField(default=0)
    total = models.PositiveIntegerField(default=0)
    # Result: a sentence, a page to go on to, a file that is kept for a week.
    words = models.CharField(max_length=300, blank=True)
    url = models.CharField(max_length=300, blank=True)
    file = models.CharField(max_length=200, blank=True)
    file_name = models.CharField(max_length=120, blank=True)
    content_type = models.CharField(max_length=80, blank=True)
    error = models.TextField(blank=True)

    objects = WorkQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "works"
        constraints = [
            models.UniqueConstraint(fields=["unit", "key"], name="work_key_once"),
            models.CheckConstraint(
                condition=Q(state__in=("waiting", "running", "done", "failed")),
                name="work_state_known",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=("done", "failed")) | Q(finished_at__isnull=False),
                name="work_ended_has_time",
            ),
            models.CheckConstraint(
                condition=~Q(state="failed") | ~Q(error=""), name="work_failed_says_why"
            ),
        ]
        indexes = [
            models.Index(fields=["unit", "kind", "-asked_at"], name="work_newest"),
            models.Index(
                fields=["asked_at"],
                name="work_unfinished",
                condition=Q(state__in=("waiting", "running")),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.title}: {self.get_state_display().lower()}"

    def get_absolute_url(self) -> str:
        return reverse("studio:work", args=[self.pk])

    @property
    def is_unfinished(self) -> bool:
        return self.state in (self.State.WAITING, self.State.RUNNING)

    def key_for(self, step: object) -> UUID:
        """Key for the action of one step: the same in every attempt, so that the action is done once."""
        return uuid5(self.key, str(step))
