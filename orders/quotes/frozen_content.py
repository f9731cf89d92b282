"""The frozen content of papers as plain data: digest, texts and dates; pure."""

import hashlib
import json
from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any


def digest(content: Any) -> str:
    """Return the SHA-256 of a frozen content, independent of the order of its keys."""
    plain = json.dumps(content, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(plain.encode()).hexdigest()


def texts(content: object) -> Iterator[str]:
    """Yield every text in a content."""
    if isinstance(content, str):
        yield content
    elif isinstance(content, Mapping):
        for value in content.values():
            yield from texts(value)
    elif isinstance(content, list):
        for value in content:
            yield from texts(value)


def with_dates(value: Any, name: str = "") -> Any:
    """Return a frozen content with its days ("on", "…_on") as dates."""
    if isinstance(value, Mapping):
        return {key: with_dates(each, key) for key, each in value.items()}
    if isinstance(value, list):
        return [with_dates(each) for each in value]
    return date.fromisoformat(value) if name == "on" or name.endswith("_on") else value
