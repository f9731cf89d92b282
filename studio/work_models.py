"""Long work: what a unit asked the worker to make, how far it is, and what came of it."""

from typing import Self
from uuid import UUID, uuid5

from django.db import models
from django.db.models import Q
from django.urls import reverse


class WorkQuerySet(models.QuerySet["Work"]):
    def unfinished(self) -> Self:
        return self.filter(state__in=(Work.State.WAITING, Work.State.RUNNING))

    def of_kind(self, kind: str) -> Self:
        return self.filter(kind=kind)

    def newest_first(self) -> Self:
        return self.order_by("-asked_at", "-pk")


class Work(models.Model):
    """One piece of long work. Written by `studio.work` alone."""

    class State(models.TextChoices):
        WAITING = "waiting", "Waiting its turn"
        RUNNING = "running", "Being made"
        DONE = "done", "Done"
        FAILED = "failed", "Broke off"

    unit = models.ForeignKey("studio.Unit", on_delete=models.PROTECT, related_name="works")
    # A name under which a function is registered with `@work_kind`.
    kind = models.CharField(max_length=40)
    title = models.CharField(max_length=120)
    facts = models.JSONField(default=dict)
    # None: the worker itself saw that it was time.
    by = models.ForeignKey("studio.User", on_delete=models.PROTECT, null=True, related_name="+")
    key = models.UUIDField()
    asked_at = models.DateTimeField()
    started_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=10, choices=State.choices, default=State.WAITING)
    # How often the worker took it up; whoever writes says as which attempt, so a worker that was
    # taken for dead changes nothing when it wakes.
    attempts = models.PositiveSmallIntegerField(default=0)
    done = models.PositiveIntegerField(default=0)
    total = models.PositiveIntegerField(default=0)
    # What came of it: a sentence, a page to go on to, a file that is kept for a week.
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
    def goes_on(self) -> bool:
        return self.state in (self.State.WAITING, self.State.RUNNING)

    def key_for(self, step: object) -> UUID:
        """The client's key of one step: the same in every attempt, so an action is done once."""
        return uuid5(self.key, str(step))
