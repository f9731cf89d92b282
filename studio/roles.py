"""The roles that a person may have in a unit."""

from django.db import models


class Role(models.TextChoices):
    OWNER = "owner", "Owner"
    HELPER = "helper", "Helper"
    OFFICE = "office", "Network office"
