from typing import TYPE_CHECKING, Self

from django.db import models

if TYPE_CHECKING:
    from studio.work.models import Work  # noqa: F401


class WorkQuerySet(models.QuerySet["Work"]):
    def unfinished(self) -> Self:
        states = self.model.State
        return self.filter(state__in=(states.WAITING, states.RUNNING))

    def of_kind(self, kind: str) -> Self:
        return self.filter(kind=kind)

    def newest_first(self) -> Self:
        return self.order_by("-asked_at", "-pk")
