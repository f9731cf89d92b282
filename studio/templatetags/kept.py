"""`{% kept "room/_part.html" name=fact … %}`: a part that is rendered once for the same facts.

Like `include … only`, for facts that can never change under it: words, numbers, days, and frozen
dataclasses or tuples of them; a row of the database is refused. Besides its facts the part has
`csrf_token` and `fresh_key` for its forms: both are filled in at each look, each key anew.
"""

import secrets
from dataclasses import fields, is_dataclass
from datetime import date, time, timedelta
from decimal import Decimal
from threading import Lock
from typing import Any
from uuid import UUID, uuid4

from django import template
from django.conf import settings
from django.template.base import FilterExpression, Parser, Token, token_kwargs
from django.template.context import Context
from django.template.loader import get_template
from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe

from studio.kept import forgets

register = template.Library()

MOST_CHARACTERS = 16_000_000
PLAIN = (str, bool, int, float, date, time, timedelta, Decimal, UUID, type(None))

# What stands in a kept part for what is each look's own. Nobody can write them: they are drawn
# as the process begins, and no answer holds one.
_TOKEN = f"token{secrets.token_hex(16)}"
_KEY = f"key{secrets.token_hex(16)}"


class NeverKept(TypeError):
    """A fact that may change under the part that was made of it."""


class _Parts:
    """Rendered parts, cut at the keys of their forms; the oldest go when they grow too long."""

    def __init__(self) -> None:
        self._parts: dict[Any, list[str]] = {}
        self._characters = 0
        self._lock = Lock()

    def get(self, facts: Any) -> list[str] | None:
        return self._parts.get(facts)

    def put(self, facts: Any, part: list[str]) -> None:
        with self._lock:
            self._drop(facts)
            self._parts[facts] = part
            self._characters += _length(part)
            while self._characters > MOST_CHARACTERS:
                self._drop(next(iter(self._parts)))

    def forget(self) -> None:
        with self._lock:
            self._parts.clear()
            self._characters = 0

    def _drop(self, facts: Any) -> None:
        self._characters -= _length(self._parts.pop(facts, []))


parts = _Parts()
forgets(parts.forget)


class KeptNode(template.Node):
    def __init__(self, name: str, facts: dict[str, FilterExpression]) -> None:
        self.name, self.facts = name, facts

    def render(self, context: Context) -> SafeString:
        values = [fact.resolve(context) for fact in self.facts.values()]
        key = (self.name, timezone.get_current_timezone_name(), *values, *map(type, values))
        part = None if settings.DEBUG else parts.get(key)  # a template may be under work
        if part is None:
            for value in values:
                if type(value) is not SafeString:  # a word of the template; its type is in the key
                    _refuse_rows(value)
            part = self._rendered(values)
            parts.put(key, part)
        html = part[0] + "".join(f"{uuid4()}{rest}" for rest in part[1:])
        if _TOKEN in html:
            html = html.replace(_TOKEN, str(context["csrf_token"]))
        return mark_safe(html)  # noqa: S308 - our own template made it, with its escapes

    def _rendered(self, values: list[Any]) -> list[str]:
        part = get_template(self.name).template  # type: ignore[attr-defined]
        facts = dict(zip(self.facts, values, strict=True))
        html: str = part.render(Context({**facts, "csrf_token": _TOKEN, "fresh_key": _KEY}))
        return html.split(_KEY)


@register.tag
def kept(parser: Parser, token: Token) -> KeptNode:
    _, name, *bits = token.split_contents()
    facts = token_kwargs(bits, parser)
    if bits:
        raise template.TemplateSyntaxError(f"kept takes name=fact, not {bits[0]}.")
    return KeptNode(name.strip("\"'"), facts)


def _refuse_rows(value: Any) -> None:
    """Raises NeverKept unless the value is frozen through and through."""
    if isinstance(value, tuple | frozenset):
        for each in value:
            _refuse_rows(each)
    elif is_dataclass(value) and getattr(value, "__dataclass_params__").frozen:  # noqa: B009 - untyped
        for each in fields(value):
            _refuse_rows(getattr(value, each.name))
    elif not isinstance(value, PLAIN) or isinstance(value, SafeString):
        raise NeverKept(f"{type(value).__name__} is no fact to keep a part for: give its words.")


def _length(part: list[str]) -> int:
    return sum(map(len, part))
