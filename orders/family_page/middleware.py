"""Response headers of all addresses below /follow/, also for refusals by other middleware."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

FAMILIES = "/follow/"

HEADERS = {
    "X-Robots-Tag": "noindex, nofollow, noarchive",
    "Cache-Control": "no-store",
    # `same-origin` would send a token along to our own static files; `no-referrer` breaks the
    # CSRF check of form posts.
    "Referrer-Policy": "strict-origin",
}


class FamilyPagesMiddleware:
    """Keep family pages out of search engines, caches and referrers. Must be the first middleware."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if request.path_info.startswith(FAMILIES):
            for name, value in HEADERS.items():
                response[name] = value
        return response
