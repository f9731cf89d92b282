"""The product with the addresses of `bare` before its own; nothing else differs."""

from django.conf import settings

settings.ROOT_URLCONF = "tests.benchmarks.bare"

from studio.wsgi import application  # noqa: E402, F401 - the setting comes first
