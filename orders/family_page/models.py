import uuid

from django.db import models

from orders.family_page import querysets as family_page_querysets
from studio.accounts.models import User
from studio.jobs.models import Job


class FamilyLink(models.Model):
    """A private address that shows one job to its family. Only the token's digest is stored."""

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="family_links")
    token_sha256 = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)

    objects = family_page_querysets.FamilyLinkQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at", "-pk"]

    def __str__(self) -> str:
        return f"link to {self.job}"


class LinkMiss(models.Model):
    """Failed attempts to open a private link from one network in one minute, for throttling."""

    came_from = models.CharField(max_length=64)
    minute = models.DateTimeField()
    tries = models.PositiveIntegerField(default=0)

    class Meta:
        verbose_name_plural = "link misses"
        constraints = [
            models.UniqueConstraint(fields=["came_from", "minute"], name="link_miss_once_a_minute"),
        ]

    def __str__(self) -> str:
        return f"{self.tries} at {self.minute:%Y-%m-%d %H:%M}"
