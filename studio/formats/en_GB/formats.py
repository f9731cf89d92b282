"""Django's plain formats rather than its British ones: a browser's date field wants "2026-12-03"."""

from django.conf.global_settings import (  # noqa: F401 - read by Django
    DATE_FORMAT,
    DATETIME_FORMAT,
    DATETIME_INPUT_FORMATS,
    MONTH_DAY_FORMAT,
    SHORT_DATE_FORMAT,
    SHORT_DATETIME_FORMAT,
    TIME_FORMAT,
    TIME_INPUT_FORMATS,
    YEAR_MONTH_FORMAT,
)

DATE_INPUT_FORMATS = ["%Y-%m-%d", "%d/%m/%Y"]
