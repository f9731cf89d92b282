"""The product's addresses and two more, which answer what a page says as a static template.

What is left of a page's time without its own work: server, middleware, log-in, and a template that
only has to be copied. CASTSTEAD_BARE names the folder of the pages as they were captured.
"""

import os
from functools import cache
from pathlib import Path

from django.http import HttpResponse
from django.template import engines
from django.urls import include, path
from django.views.decorators.http import require_safe

from orders.family_page.views import open_to_families


@require_safe
def bare(request, name):
    """Behind the log-in: session, person and unit are read as for every page."""
    return HttpResponse(_template(name).render({}, request))


@require_safe
@open_to_families
def bare_follow(request, link, name):
    """Behind the family's link, which is looked up as for every page of the family's."""
    return HttpResponse(_template(name).render({}, request))


@cache
def _template(name):
    html = (Path(os.environ["CASTSTEAD_BARE"]) / f"{name}.html").read_text()
    return engines["django"].from_string(f"{{% verbatim %}}{html}{{% endverbatim %}}")


urlpatterns = [
    path("bare/<str:name>/", bare),
    path("follow/at/<uuid:public_id>/bare/<str:name>/", bare_follow),
    path("", include("studio.urls")),
]
