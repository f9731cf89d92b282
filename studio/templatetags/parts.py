"""Template tags for the parts that most pages use, available without `{% load %}`.

Each draws the part of the same name in `templates/parts`, which says what it takes.
"""

from typing import Any
from uuid import uuid4

from django import template
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.safestring import SafeString

register = template.Library()


@register.inclusion_tag("parts/button.html")
def button(label: str, variant: str = "main", name: str = "", value: str = "") -> dict[str, Any]:
    """`{% button "Save" %}`: the button that sends the form around it."""
    return {"label": label, "variant": variant, "name": name, "value": value}


@register.inclusion_tag("parts/button.html")
def link_button(
    label: str, route: str = "", *args: Any, url: str = "", variant: str = "main"
) -> dict[str, Any]:
    """`{% link_button "Edit" "studio:edit_unit" %}`: a link that looks like a button.

    It leads to the named `route` with its `args`, or to the address `url`.
    """
    return {"label": label, "url": url or reverse(route, args=args), "variant": variant}


@register.inclusion_tag("parts/press.html")
def press(label: str, route: str, *args: Any, **more: Any) -> dict[str, Any]:
    """`{% press "Demould" "production:demould" cast.pk %}`: a form with one button, its CSRF token and a new key.

    `more`: variant, seen, name and value as the part takes them; key where the caller has one.
    """
    return {"label": label, "url": reverse(route, args=args), "key": uuid4(), **more}


@register.inclusion_tag("parts/status.html")
def status(kind: str, words: object, *, block: bool = False) -> dict[str, Any]:
    """`{% status "late" "2 days late" %}`: a state as a symbol with text."""
    return {"kind": kind, "words": words, "block": block}


@register.inclusion_tag("parts/field.html")
def field(bound: Any, unit: str = "", *, short: bool = False) -> dict[str, Any]:
    """`{% field form.mass_g unit="g" %}`: one question of a form."""
    return {"field": bound, "unit": unit, "short": short}


@register.simple_block_tag
def panel(content: str, anchor: str, heading: str, **more: Any) -> SafeString:
    """`{% panel "jobs" "Jobs" %} … {% endpanel %}`: a section with its heading in the margin.

    `more`: note, variant and body as the part takes them.
    """
    given = {"anchor": anchor, "heading": heading, "content": content, **more}
    return render_to_string("parts/panel.html", given)


@register.simple_block_tag
def empty_state(content: str, title: str, url: str = "", label: str = "") -> SafeString:
    """`{% empty_state "No jobs yet" %}They appear here. {% endempty_state %}`: what will be here, and how to begin."""
    given = {"title": title, "words": content, "url": url, "label": label}
    return render_to_string("parts/empty.html", given)
