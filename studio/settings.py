"""All settings, from the environment, with defaults that are safe to run in public.

SECRET_KEY       required unless DEBUG is on
DEBUG            false
ALLOWED_HOSTS    comma-separated host names; empty
CASTSTEAD_HTTPS  true: cookies only over https, HSTS, redirect; `bin/start` turns it off on loopback
CASTSTEAD_BEHIND_PROXY  false: whether to trust the X-Forwarded-Proto header of a proxy in front
DATABASE_URL     sqlite file in var/ by default; postgres://… for several web processes
CASTSTEAD_MEDIA  folder of the private photographs and issued papers
CASTSTEAD_PHOTOS where photographs are kept: CASTSTEAD_MEDIA by default, or a private bucket of
                 object storage, s3://bucket/folder?endpoint=https://…&region=…, whose keys are
                 read from AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY
CASTSTEAD_STATIC folder that `collectstatic` fills
CASTSTEAD_WORK_ATTEMPTS   number of attempts at background work; 3
CASTSTEAD_WORK_PATIENCE_S seconds after which work on another machine is taken for abandoned; 900
"""

import sys
from pathlib import Path
from typing import Any

import dj_database_url
import django_stubs_ext
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured
from environs import Env

from studio.web.private_files import photo_storage

try:
    # Debian 12's own SQLite has the rare WAL-reset corruption bug (fixed in 3.51.3).
    import pysqlite3

    sys.modules["sqlite3"] = pysqlite3
    sys.modules["sqlite3.dbapi2"] = pysqlite3.dbapi2
except ImportError:  # studio.checks warns of the consequences
    pass

# ModelForm["Family"] and ModelAdmin[Job] are types to mypy; this lets Django run them too.
django_stubs_ext.monkeypatch()

env = Env()

BASE_DIR = Path(__file__).resolve().parent.parent
VAR_DIR = BASE_DIR / "var"

DEBUG: bool = env.bool("DEBUG", False)
INSECURE_KEY = "only-for-development-" + "x" * 40
SECRET_KEY: str = env.str("SECRET_KEY", INSECURE_KEY if DEBUG else "")
if not DEBUG and SECRET_KEY in ("", INSECURE_KEY):
    raise ImproperlyConfigured(
        "SECRET_KEY is not set. Give this installation a secret of its own, at least 50 random "
        "characters; bin/start makes one and keeps it in var/secret_key."
    )
ALLOWED_HOSTS: list[str] = env.list(
    "ALLOWED_HOSTS", ["127.0.0.1", "localhost", "[::1]"] if DEBUG else []
)
HTTPS: bool = env.bool("CASTSTEAD_HTTPS", not DEBUG)
BEHIND_PROXY: bool = env.bool("CASTSTEAD_BEHIND_PROXY", False)

INSTALLED_APPS = [
    "studio",
    "bookings",
    "production",
    "orders",
    "demo_data",
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django_htmx",
    "csp",
    "django_tasks",
    "django_tasks_db",
]

MIDDLEWARE = [
    "orders.family_page.middleware.FamilyPagesMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "studio.accounts.middleware.FirstRunMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "studio.accounts.middleware.UnitMiddleware",
]

ROOT_URLCONF = "studio.urls"
WSGI_APPLICATION = "studio.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "studio.web.requests.frame",
            ],
            "builtins": ["studio.templatetags.parts"],
        },
    },
]

DATABASES: dict[str, dict[str, Any]] = {
    "default": dict(
        dj_database_url.parse(env.str("DATABASE_URL", f"sqlite:///{VAR_DIR / 'caststead.sqlite3'}"))
    )
}
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    # Measured: IMMEDIATE prevents "database is locked"; WAL with FULL loses no confirmed write in a power
    # failure, and a tablet deletes its copy once a write is confirmed.
    DATABASES["default"] |= {
        "OPTIONS": {
            "transaction_mode": "IMMEDIATE",
            "timeout": 20,
            # Rows come as they are stored; Django's own fields turn them into days and times.
            "detect_types": 0,
            "init_command": (
                "PRAGMA journal_mode=WAL;PRAGMA synchronous=FULL;"
                "PRAGMA journal_size_limit=27103364;PRAGMA cache_size=2000;"
            ),
        },
        "CONN_MAX_AGE": 600,
        # A file: threads cannot share a database in memory.
        "TEST": {"NAME": str(VAR_DIR / "test.sqlite3")},
    }
else:
    DATABASES["default"] |= {"OPTIONS": {"pool": {"min_size": 1, "max_size": 8}}, "CONN_MAX_AGE": 0}

# The queue is in the same database: work enqueued in a transaction that is rolled back never runs.
TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend", "QUEUES": ["default"]}}
WORK_ATTEMPTS: int = env.int("CASTSTEAD_WORK_ATTEMPTS", 3)
WORK_PATIENCE_S: int = env.int("CASTSTEAD_WORK_PATIENCE_S", 900)

DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "studio.User"
LOGIN_URL = "studio:log_in"
LOGIN_REDIRECT_URL = "studio:today"
LOGOUT_REDIRECT_URL = "studio:log_in"
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"django.contrib.auth.password_validation.{name}"}
    for name in (
        "UserAttributeSimilarityValidator",
        "MinimumLengthValidator",
        "CommonPasswordValidator",
        "NumericPasswordValidator",
    )
]

LANGUAGE_CODE = "en-gb"
TIME_ZONE = "Europe/London"
USE_I18N = True  # what a family reads goes through gettext; the source language is English
USE_TZ = True
LOCALE_PATHS = [BASE_DIR / "locale"]  # one folder a language, once there is a second
FORMAT_MODULE_PATH = ["studio.formats"]

STATIC_URL = "static/"
STATIC_ROOT = env.path("CASTSTEAD_STATIC", VAR_DIR / "static")
STATICFILES_DIRS = [BASE_DIR / "static"]
# Private: this folder is not served; views hand out its files after checking permission.
MEDIA_ROOT = env.path("CASTSTEAD_MEDIA", VAR_DIR / "media")
try:
    PHOTOS = photo_storage(env.str("CASTSTEAD_PHOTOS", ""))
except ValueError as misread:
    raise ImproperlyConfigured(str(misread)) from None
STORAGES = {
    "default": PHOTOS,
    "staticfiles": {
        "BACKEND": (
            "django.contrib.staticfiles.storage.StaticFilesStorage"
            if DEBUG
            else "whitenoise.storage.CompressedManifestStaticFilesStorage"
        )
    },
}
FILE_UPLOAD_PERMISSIONS = 0o600
DATA_UPLOAD_MAX_MEMORY_SIZE = 2_621_440

SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SECURE = HTTPS
CSRF_COOKIE_SECURE = HTTPS
SECURE_SSL_REDIRECT = HTTPS
SECURE_HSTS_SECONDS = 31_536_000 if HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = HTTPS
SECURE_HSTS_PRELOAD = HTTPS
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if BEHIND_PROXY else None
# `same-origin` would send a private link's token along to our own static files; `no-referrer`
# makes form posts fail the CSRF check.
SECURE_REFERRER_POLICY = "strict-origin"
X_FRAME_OPTIONS = "DENY"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:", "blob:"],
        "connect-src": [SELF],
        "worker-src": [SELF],
        "manifest-src": [SELF],
        "form-action": [SELF],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
    }
}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"console": {"class": "logging.StreamHandler"}},
    "root": {"handlers": ["console"], "level": "INFO"},
    # WeasyPrint logs every CSS rule for screens that it ignores.
    "loggers": {"weasyprint": {"level": "ERROR"}, "fontTools": {"level": "ERROR"}},
}
