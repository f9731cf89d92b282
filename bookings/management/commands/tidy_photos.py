"""Nightly command: sizes that photographs lack, files that belong to none."""

from argparse import ArgumentParser
from typing import Any

from django.core.files.storage import default_storage
from django.core.management.base import BaseCommand
from django.utils import timezone

from bookings.photos import orphans as photos_orphans
from bookings.photos.actions import make_sizes
from bookings.photos.cleaning import PhotoRefused
from bookings.tablet import photo_parts


class Command(BaseCommand):
    help = (
        "Makes the sizes that older photographs lack, deletes files that have belonged to no "
        "photograph for a day and parts from tablets that nobody went on with for a week, and "
        "names photographs whose file is gone. Run it once a night."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--look", action="store_true", help="say what would be done, no more")

    def handle(self, *_args: Any, look: bool, **_options: Any) -> None:
        lost = photos_orphans.photos_without_file()
        made = [photo for photo in photos_orphans.photos_without_sizes() if photo not in lost]
        orphans = photos_orphans.orphaned_files(timezone.now())
        for photo in [] if look else made:
            try:
                make_sizes(photo)
            except (PhotoRefused, FileNotFoundError) as broken:
                self.stderr.write(f"{photo}: no sizes made. {broken}")
        for name in [] if look else orphans:
            default_storage.delete(name)
        if not look:
            photo_parts.delete_abandoned(timezone.now())
        self.stdout.write(f"{'To be given' if look else 'Given'} their sizes: {len(made)}.")
        self.stdout.write(
            f"{'To be deleted' if look else 'Deleted'}, belonging to no photograph: {len(orphans)}."
        )
        for photo in lost:
            self.stdout.write(f"Its file is gone: {photo}, {photo.taken_at:%Y-%m-%d}.")
