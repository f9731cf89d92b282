"""The product's addresses and three more: two answer what a page says as a static template.

What is left of a page's time without its own work: server, middleware, log-in, and a template that
only has to be copied. CASTSTEAD_BARE names the folder of the pages as they were captured.
"""

import os
import uuid
from datetime import timedelta
from functools import cache
from itertools import count
from pathlib import Path

from django.http import HttpResponse
from django.template import engines
from django.urls import include, path
from django.utils import timezone
from django.views.decorators.http import require_safe

from orders.follow import open_to_families
from studio import actions, kept
from studio.stages import Stage


@require_safe
def bare(request, name):
    """Behind the log-in: session, person and unit are read as for every page."""
    return HttpResponse(_template(name).render({}, request))


@require_safe
@open_to_families
def bare_follow(request, link, name):
    """Behind the family's link, which is looked up as for every page of the family's."""
    return HttpResponse(_template(name).render({}, request))


@require_safe
def errand(request, name):
    """What happens between two looks: the promise of one job changes, or the process begins anew."""
    if name == "forget":
        kept.forget()
        return HttpResponse()
    jobs = list(request.unit.jobs.at(Stage.DRYING).order_by("pk"))
    turn = next(_turns)
    job = jobs[turn % len(jobs)]
    actions.promise(
        job,
        promised_on=timezone.localdate() + timedelta(days=7 + turn % 11),
        why="The week was damp.",
        by=request.user,
        at=timezone.now(),
        key=uuid.uuid4(),
    )
    return HttpResponse()


_turns = count()


@cache
def _template(name):
    html = (Path(os.environ["CASTSTEAD_BARE"]) / f"{name}.html").read_text()
    return engines["django"].from_string(f"{{% verbatim %}}{html}{{% endverbatim %}}")


urlpatterns = [
    path("bare/do/<str:name>/", errand),
    path("bare/<str:name>/", bare),
    path("follow/at/<uuid:public_id>/bare/<str:name>/", bare_follow),
    path("", include("studio.urls")),
]
