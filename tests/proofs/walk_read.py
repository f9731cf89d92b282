"""What a person sees of an answer, as plain data: the text, links and forms of a page, a paper."""

import hashlib
import re
import subprocess
import tempfile
from pathlib import Path
from urllib.parse import urlencode, urljoin

from lxml import html

UUID = re.compile(r"[0-9a-f]{8}-?(?:[0-9a-f]{4}-?){3}[0-9a-f]{12}")
UNSEEN = {"script", "style", "template", "head", "select", "textarea", "noscript"}
# Inside a line of text; every other element begins a line of its own.
INLINE = {
    *(
        "a",
        "abbr",
        "b",
        "bdi",
        "button",
        "cite",
        "code",
        "data",
        "del",
        "dfn",
        "em",
        "i",
        "img",
        "input",
    ),
    *(
        "ins",
        "kbd",
        "label",
        "mark",
        "output",
        "q",
        "s",
        "samp",
        "small",
        "span",
        "strong",
        "sub",
        "sup",
    ),
    *("svg", "text", "time", "tspan", "u", "var", "wbr"),
}
SPOKEN = ("alt", "aria-label", "placeholder")


def digest(data):
    return hashlib.sha256(data).hexdigest()


def fold(text):
    return " ".join(text.split())


def page(body, address):
    """The title, visible text, links and forms of the HTML in `body`, found at `address`."""
    utf8 = html.HTMLParser(encoding="utf-8")  # a part of a page does not say it
    tree = html.document_fromstring(body.strip() or b"<p></p>", parser=utf8)
    parts = []
    _say(tree, parts)
    lines = [line for line in map(fold, "".join(parts).split("\n")) if line]
    title = tree.findtext(".//title") or ""
    return {
        "text": [fold(title), *lines] if title else lines,
        "links": sorted({urljoin(address, a.get("href")) for a in tree.iterfind(".//a[@href]")}),
        "pictures": sorted({urljoin(address, a.get("src")) for a in tree.iterfind(".//img[@src]")}),
        "parts": sorted(
            {
                urljoin(address, a.get("hx-get"))
                for a in tree.xpath("//*[@hx-get]")
                if a.get("hx-get")
            }
        ),
        "forms": [form(each, tree, address) for each in tree.iterfind(".//form")],
    }


def _say(element, parts):
    """Append what the element shows to `parts`, with a line break around all that is not inline."""
    if not isinstance(element.tag, str):
        parts.append(element.tail or "")
        return
    own_line = element.tag not in INLINE
    if own_line:
        parts.append("\n")
    if element.tag not in UNSEEN:
        parts.extend(f" [{element.get(name)}] " for name in SPOKEN if element.get(name))
        parts.append(element.text or "")
        for child in element:
            _say(child, parts)
    if own_line:
        parts.append("\n")
    parts.append(element.tail or "")


def form(element, tree, address):
    """Where a form goes, what it takes (names, kinds, values, options) and its buttons."""
    inside = list(element.iter("input", "select", "textarea", "button"))
    if name := element.get("id"):
        inside += tree.xpath("//*[@form=$name]", name=name)
    fields, buttons = [], []
    for each in inside:
        if (
            each.get("form") not in (None, element.get("id"))
            or each.get("name") == "csrfmiddlewaretoken"
        ):
            continue
        kind = each.get("type", "text") if each.tag == "input" else each.tag
        if each.tag == "button" or kind in ("submit", "image", "button"):
            if each.get("type", "submit") == "submit":
                buttons.append(_button(each, address))
        else:
            fields.append(_field(each, kind))
    return {
        "action": urljoin(address, element.get("hx-post") or element.get("action") or address),
        "method": "post" if element.get("hx-post") else element.get("method", "get").lower(),
        "fields": fields,
        "buttons": buttons,
    }


def _button(element, address):
    to = element.get("formaction")
    return {
        "name": element.get("name", ""),
        "value": element.get("value", ""),
        "says": fold(element.text_content()) or element.get("value", ""),
        "to": urljoin(address, to) if to else "",
    }


def _field(element, kind):
    found = {"name": element.get("name", ""), "kind": kind}
    if kind == "select":
        options = element.findall(".//option")
        chosen = [each for each in options if each.get("selected") is not None]
        if not chosen and options and element.get("multiple") is None:
            chosen = options[:1]
        found["options"] = [
            [each.get("value", fold(each.text or "")), fold(each.text or "")] for each in options
        ]
        found["value"] = [each.get("value", fold(each.text or "")) for each in chosen]
    elif kind == "textarea":
        found["value"] = [(element.text or "").strip()]
    elif kind in ("checkbox", "radio"):
        found["option"] = element.get("value", "on")
        found["value"] = [found["option"]] if element.get("checked") is not None else []
    else:
        found["value"] = [element.get("value", "")]
    for state in ("required", "disabled"):
        if element.get(state) is not None:
            found[state] = True
    return found


def sends(form, button, *, emptied):
    """What a browser sends when the button is pressed; `emptied`: nothing a person can fill in."""
    sent = {}
    for field in form["fields"]:
        own = field["kind"] == "hidden" or not emptied
        if own and field["name"] and field["kind"] != "file" and not field.get("disabled"):
            sent.setdefault(field["name"], []).extend(field["value"])
    if button and button["name"]:
        sent.setdefault(button["name"], []).append(button["value"])
    return sent


def asks(form):
    """The address that a form which only reads leads to, as it comes."""
    return (
        f"{form['action'].split('?')[0]}?{urlencode(sends(form, None, emptied=False), doseq=True)}"
    )


def without_fresh_keys(form):
    """The form, its hidden keys replaced by a word: they are new at each look."""
    fields = [
        field | {"value": [UUID.sub("(key)", each) for each in field["value"]]}
        if field["kind"] == "hidden"
        else field
        for field in form["fields"]
    ]
    return form | {"fields": fields}


def paper(data):
    """The text, the number of pages and the look (a sum of the grey picture at 50 dpi) of a PDF."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "paper.pdf"
        file.write_bytes(data)
        text = _run("pdftotext", "-layout", file, "-").decode(errors="replace")
        look = digest(_run("pdftoppm", "-r", "50", "-gray", file))
    pages = text.count("\f")
    return {
        "pages": pages,
        "look": look,
        "text": [line.rstrip() for line in text.split("\n") if line.strip()],
    }


def _run(*command):
    return subprocess.run([str(each) for each in command], capture_output=True, check=True).stdout
