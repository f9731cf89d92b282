"""Resumable uploads of photographs: parts in the storage until the photograph is complete.

Each part is a file of its own, because object storage cannot append. A part counts only if it is as long as its name
says: a truncated one is sent again.
"""

import re
from contextlib import suppress
from datetime import datetime, timedelta
from hashlib import sha256
from typing import NamedTuple
from uuid import UUID

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from studio.accounts.models import Unit

FOLDER = "tablet-parts"

ABANDONED_AFTER = timedelta(days=7)

MAX_PART_BYTES = 1024 * 1024

_NAME = re.compile(r"(\d+)-(\d+)(?:_\w+)?\.part")


class _Part(NamedTuple):
    start: int
    length: int
    name: str


class Parts:
    """The stored parts of one photograph, by its key, its expected SHA-256 digest and length."""

    def __init__(self, unit: Unit, key: UUID, *, digest: str, total_bytes: int) -> None:
        self.digest, self.total_bytes = digest, total_bytes
        self.folder = f"{_folder(unit, key)}/{digest}-{total_bytes}"

    def have(self) -> int:
        """Number of bytes received from the beginning without a gap."""
        return _contiguous_bytes(self._parts())

    def add(self, offset: int, content: bytes) -> int:
        """Store a part that continues what is there and ignore any other; return `have()`."""
        have = self.have()
        end = offset + len(content)
        if offset > have or end <= have or end > self.total_bytes:
            return have
        default_storage.save(f"{self.folder}/{offset}-{len(content)}.part", ContentFile(content))
        return self.have()

    def assemble(self) -> bytes | None:
        """Join the parts; None if the digest differs."""
        content = bytearray()
        for part in self._parts():
            if part.start <= len(content) < part.start + part.length:
                with default_storage.open(part.name, "rb") as file:
                    content += file.read()[len(content) - part.start :]
        return bytes(content) if sha256(content).hexdigest() == self.digest else None

    def delete(self) -> None:
        _delete_folder(self.folder)
        _delete_empty(self.folder.rsplit("/", 1)[0])

    def _parts(self) -> list[_Part]:
        return _parts_in(self.folder)


def received_bytes(unit: Unit, key: UUID) -> int:
    """Return how many bytes are here without a gap from the start, of the longest upload under this key.

    Digest and length that were announced do not matter.
    """
    folder = _folder(unit, key)
    folders, _ = _list_folder(folder)
    return max((_contiguous_bytes(_parts_in(f"{folder}/{name}")) for name in folders), default=0)


def delete_abandoned(now: datetime) -> int:
    """Delete the parts of uploads abandoned for a week; return how many."""
    gone = 0
    for unit in _list_folder(FOLDER)[0]:
        for key in _list_folder(f"{FOLDER}/{unit}")[0]:
            for whole in _list_folder(f"{FOLDER}/{unit}/{key}")[0]:
                gone += _delete_if_abandoned(
                    f"{FOLDER}/{unit}/{key}/{whole}", now - ABANDONED_AFTER
                )
            _delete_empty(f"{FOLDER}/{unit}/{key}")
    return gone


def _delete_if_abandoned(folder: str, before: datetime) -> int:
    names = [f"{folder}/{name}" for name in _list_folder(folder)[1]]
    # A recent part means that the upload is still going on.
    if any(default_storage.get_modified_time(name) >= before for name in names):
        return 0
    _delete_folder(folder)
    return len(names)


def _folder(unit: Unit, key: UUID) -> str:
    return f"{FOLDER}/{unit.pk}/{key}"


def _parts_in(folder: str) -> list[_Part]:
    """List the complete parts in order."""
    found = []
    for name in _list_folder(folder)[1]:
        if match := _NAME.fullmatch(name):
            part = _Part(int(match[1]), int(match[2]), f"{folder}/{name}")
            if default_storage.size(part.name) == part.length:
                found.append(part)
    return sorted(found)


def _contiguous_bytes(parts: list[_Part]) -> int:
    have = 0
    for part in parts:
        if part.start <= have:
            have = max(have, part.start + part.length)
    return have


def _list_folder(folder: str) -> tuple[list[str], list[str]]:
    try:
        return default_storage.listdir(folder)
    except FileNotFoundError:
        return [], []


def _delete_folder(folder: str) -> None:
    for name in _list_folder(folder)[1]:
        default_storage.delete(f"{folder}/{name}")
    _delete_empty(folder)


def _delete_empty(folder: str) -> None:
    # Only file systems have folders; another request may be adding a part to this one.
    with suppress(OSError):
        default_storage.delete(folder)
