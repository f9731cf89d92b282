"""Photographs on their way from a tablet: parts in the storage, until the whole is there.

Each part is a file of its own, because object storage cannot add to one. A part counts only if it
is as long as its name says: what was cut off while it was written is sent again.
"""

import re
from contextlib import suppress
from datetime import datetime, timedelta
from hashlib import sha256
from typing import NamedTuple
from uuid import UUID

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from studio.models import Unit

FOLDER = "tablet-parts"
KEPT_FOR = timedelta(days=7)
LONGEST_PART = 1024 * 1024

_NAME = re.compile(r"(\d+)-(\d+)(?:_\w+)?\.part")


class _Part(NamedTuple):
    start: int
    length: int
    name: str


class Parts:
    """What has come of one photograph: named by its key, and by what the whole is to be."""

    def __init__(self, unit: Unit, key: UUID, *, digest: str, total_bytes: int) -> None:
        self.digest, self.total_bytes = digest, total_bytes
        self.folder = f"{_folder_of(unit, key)}/{digest}-{total_bytes}"

    def have(self) -> int:
        """How many bytes are there from the beginning, without a gap."""
        return _reach(self._parts())

    def add(self, offset: int, content: bytes) -> int:
        """Keep a part that goes on from what is there; another changes nothing. Returns `have`."""
        have = self.have()
        end = offset + len(content)
        if offset > have or end <= have or end > self.total_bytes:
            return have
        default_storage.save(f"{self.folder}/{offset}-{len(content)}.part", ContentFile(content))
        return self.have()

    def whole(self) -> bytes | None:
        """All of it; None where it is not what was announced."""
        content = bytearray()
        for part in self._parts():
            if part.start <= len(content) < part.start + part.length:
                with default_storage.open(part.name, "rb") as file:
                    content += file.read()[len(content) - part.start :]
        return bytes(content) if sha256(content).hexdigest() == self.digest else None

    def drop(self) -> None:
        _delete_folder(self.folder)
        _delete_empty(self.folder.rsplit("/", 1)[0])

    def _parts(self) -> list[_Part]:
        return _parts_in(self.folder)


def have_of(unit: Unit, key: UUID) -> int:
    """How much has come under a key, of whatever it is to be."""
    folder = _folder_of(unit, key)
    folders, _ = _listed(folder)
    return max((_reach(_parts_in(f"{folder}/{name}")) for name in folders), default=0)


def sweep(now: datetime) -> int:
    """Delete the parts that nobody went on with for a week. Returns how many there were."""
    gone = 0
    for unit in _listed(FOLDER)[0]:
        for key in _listed(f"{FOLDER}/{unit}")[0]:
            for whole in _listed(f"{FOLDER}/{unit}/{key}")[0]:
                gone += _sweep_folder(f"{FOLDER}/{unit}/{key}/{whole}", now - KEPT_FOR)
            _delete_empty(f"{FOLDER}/{unit}/{key}")
    return gone


def _sweep_folder(folder: str, before: datetime) -> int:
    names = [f"{folder}/{name}" for name in _listed(folder)[1]]
    # The newest part says whether anybody still goes on with it.
    if any(default_storage.get_modified_time(name) >= before for name in names):
        return 0
    _delete_folder(folder)
    return len(names)


def _folder_of(unit: Unit, key: UUID) -> str:
    return f"{FOLDER}/{unit.pk}/{key}"


def _parts_in(folder: str) -> list[_Part]:
    """The sound parts, in order."""
    found = []
    for name in _listed(folder)[1]:
        if match := _NAME.fullmatch(name):
            part = _Part(int(match[1]), int(match[2]), f"{folder}/{name}")
            if default_storage.size(part.name) == part.length:
                found.append(part)
    return sorted(found)


def _reach(parts: list[_Part]) -> int:
    have = 0
    for part in parts:
        if part.start <= have:
            have = max(have, part.start + part.length)
    return have


def _listed(folder: str) -> tuple[list[str], list[str]]:
    try:
        return default_storage.listdir(folder)
    except FileNotFoundError:
        return [], []


def _delete_folder(folder: str) -> None:
    for name in _listed(folder)[1]:
        default_storage.delete(f"{folder}/{name}")
    _delete_empty(folder)


def _delete_empty(folder: str) -> None:
    # A folder is a thing of disks; another request may be putting a part into it.
    with suppress(OSError):
        default_storage.delete(folder)
