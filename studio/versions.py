"""Rows that two people may edit: the second of them is warned and loses nothing."""

from collections.abc import Mapping
from typing import Any

from django.db import models, transaction
from django.utils.translation import gettext as _

from studio.stages import Refused


class Versioned(models.Model):
    """A row that two people may edit; its version shows whether somebody else saved it meanwhile."""

    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        abstract = True


class EditedMeanwhile(Refused):
    """Somebody else saved the row after this person opened it; `current` is the row as saved."""

    def __init__(self, current: Versioned, words: str) -> None:
        super().__init__(words)
        self.current = current


def save_edited(row: Versioned, changes: Mapping[str, Any], *, seen_version: int) -> None:
    """Save `changes` to a row if its version is still `seen_version`.

    Raises EditedMeanwhile otherwise, and saves nothing.
    """
    with transaction.atomic():
        current = type(row)._default_manager.select_for_update().get(pk=row.pk)
        if current.version != seen_version:
            raise EditedMeanwhile(
                current,
                _("Somebody else saved this after you opened it. Nothing of yours is lost."),
            )
        for name, value in changes.items():
            setattr(current, name, value)
        current.version += 1
        current.save(update_fields=[*changes, "version"])
    for name in (*changes, "version"):
        setattr(row, name, getattr(current, name))
