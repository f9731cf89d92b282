"""What can be wrong with a piece of HTML without a browser looking at it."""

import re
from collections import Counter
from xml.etree.ElementTree import Element

from tinyhtml5.parser import HTMLParser

POINTERS = ("for", "aria-labelledby", "aria-describedby", "aria-controls")
UNNAMED_INPUTS = ("hidden", "submit", "button")
BLOCK = "(?:p|li|td|th|dd|dt|h[1-6]|button|option|text)"
SHELL = '<!doctype html><html lang="en-GB"><head><title>Part</title></head><body>{}</body></html>'


def page_of(part: str) -> str:
    """A whole page around a part, so that the parser reads it as a browser would."""
    return SHELL.format(part)


def folded(html: str) -> str:
    """The same HTML with the white space that a browser shows: one space per run, none at the edge of a block."""
    one_space = " ".join(html.split())
    return re.sub(rf"(<{BLOCK}(?: [^>]*)?>) | (?=</{BLOCK}>)", r"\1", one_space)


def faults(html: str) -> list[str]:
    """Everything wrong with a whole page, one sentence each; an empty list is a sound page.

    Parse errors of the HTML standard, doubled ids, pointers to ids that are not there, inputs
    without a label, pictures without words, buttons and links without a name, and what the strict
    Content-Security-Policy would drop: inline styles, scripts and handlers.
    """
    parser = HTMLParser(namespace_html_elements=False)
    parser._parse(html)  # the public parse() throws the errors away
    elements = [e for e in parser.tree.get_document().iter() if isinstance(e.tag, str)]
    return [
        *(f"parse error: {error}" for error in parser.errors),
        *_ids(elements),
        *(fault for element in elements for fault in _of_one(element, elements)),
    ]


def _ids(elements: list[Element]) -> list[str]:
    ids = Counter(element.get("id") for element in elements if "id" in element.attrib)
    doubled = [f"id {name!r} is there {n} times" for name, n in ids.items() if n > 1]
    lost = [
        f"<{element.tag} {pointer}> points at {target!r}, which is not there"
        for element in elements
        for pointer in POINTERS
        for target in element.get(pointer, "").split()
        if target not in ids
    ]
    return doubled + lost


def _of_one(element: Element, elements: list[Element]) -> list[str]:
    found = [
        f"<{element.tag} {name}> is dropped by the content policy"
        for name in element.attrib
        if name == "style" or re.match(r"(hx-)?on", name)
    ]
    if element.tag == "style" or (element.tag == "script" and "src" not in element.attrib):
        found.append(f"an inline <{element.tag}> is dropped by the content policy")
    if element.tag in ("input", "select", "textarea") and not _labelled(element, elements):
        found.append(f"<{element.tag} name={element.get('name')!r}> has no label")
    if element.tag == "img" and "alt" not in element.attrib:
        found.append(f"<img src={element.get('src')!r}> has no words")
    if element.tag in ("a", "button", "caption", "legend", "label", "h1", "h2", "h3", "title"):
        found += [] if _named(element) else [f"<{element.tag}> says nothing"]
    return found


def _labelled(element: Element, elements: list[Element]) -> bool:
    if element.get("type") in UNNAMED_INPUTS or element.get("aria-label"):
        return True
    return any(
        other.tag == "label"
        and (other.get("for") == element.get("id", "") or element in list(other.iter()))
        for other in elements
    )


def _named(element: Element) -> bool:
    pictures = "".join(image.get("alt", "") for image in element.iter("img"))
    return bool("".join(element.itertext()).strip() or element.get("aria-label") or pictures)
