"""Command: load the demo into an empty database."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from demo_data.loading import load
from studio.stages import ActionRefused


class Command(BaseCommand):
    help = "Fills an empty database with an invented studio: 60 jobs, dated around today."

    def handle(self, *_args: Any, **_options: Any) -> None:
        self.stdout.write("Loading an invented studio, about half a minute ...")
        try:
            load(timezone.now(), lambda line: self.stdout.write(f"  {line}"))
        except ActionRefused as refused:
            raise CommandError(str(refused)) from None
