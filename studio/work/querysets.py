from typing import TYPE_CHECKING, Self

from django.db import models

if TYPE_CHECKING:
    from studio.work.models import Work


class WorkQuerySet(models.QuerySet["Work"]):
    def unfinished(self) -> Self:
        state = self.model.State
        return self.filter(state__in=(state.WAITING, state.RUNNING))

    def of_kind(self, kind: str) -> Self:
        return self.filter(kind=kind)

    def newest_first(self) -> Self:
        return self.order_by("-asked_at", "-pk")
