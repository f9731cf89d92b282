"""Lists what differs between two recordings of the walk. See tests/proofs/walk.py."""

import difflib
import json
import re
import sys
from collections import defaultdict

KINDS = (
    "gone",
    "new",
    "failed",
    "status",
    "leads to",
    "kind",
    "name",
    "text",
    "look",
    "bytes",
    "links",
    "forms",
)


def compare(asked, moved):
    """Print the differences between `asked.old` and `asked.new`; return 1 if there are any, else 0."""
    old = json.loads((asked.old / "walk.json").read_text())
    new = json.loads((asked.new / "walk.json").read_text())
    where = Moves(moved)
    before = {where.key(key): where.answer(answer) for key, answer in old["answers"].items()}
    lines = asked.ignore_file.read_text().splitlines() if asked.ignore_file else []
    intended = [re.compile(line) for line in lines if line.strip() and not line.startswith("#")]

    groups, ignored = defaultdict(list), 0
    for route, kind, key, text in _differences(before, new["answers"]):
        left = [
            line
            for line in text
            if not _is_intended(intended, f"{route} | {kind} | {key} | {line}")
        ]
        ignored += len(text) - len(left)
        if any(line.startswith(("+", "-", "=")) for line in left):
            groups[route, kind].append((key, left))
    lost = sorted(set(old["stored"]) - set(new["stored"]))
    if lost:
        groups["stored files", "bytes"] = [
            (each, ["= not there any more, or changed"]) for each in lost
        ]
    _show(groups, asked)
    _say(
        f"{len(before)} answers before, {len(new['answers'])} after; {len(old['stored'])} stored files before, "
        f"{len(lost)} lost or changed; {sum(map(len, groups.values()))} differences, {ignored} lines intended."
    )
    return 1 if groups else 0


def _say(line):
    sys.stdout.write(f"{line}\n")


def _is_intended(intended, line):
    return any(each.search(line) for each in intended)


def _show(groups, asked):
    for (route, kind), found in sorted(groups.items()):
        _say(f"== {route} | {kind}: {len(found)}")
        for key, lines in found[: asked.each]:
            _say(f"   {key}")
            shown = lines[: asked.lines]
            more = [f"… {len(lines) - len(shown)} lines more"] if len(lines) > len(shown) else []
            for line in shown + more:
                _say(f"      {line[:300]}")
        if len(found) > asked.each:
            _say(f"   … and {len(found) - asked.each} more")


class Moves:
    """Writes the addresses of the old recording as the new code has them."""

    def __init__(self, moved):
        self.moved = [(re.compile(old), new) for old, new in moved.items()]

    def address(self, address):
        for old, new in self.moved:
            address = old.sub(new, address)
        return address

    def key(self, key):
        who, method, address = key.split(" ", 2)
        return f"{who} {method} {self.address(address)}"

    def answer(self, answer):
        if not self.moved:
            return answer
        told = dict(answer)
        for name in ("links", "pictures", "parts"):
            if name in told:
                told[name] = sorted({self.address(each) for each in told[name]})
        if "to" in told:
            told["to"] = self.address(told["to"])
        if "forms" in told:
            told["forms"] = [
                form | {"action": self.address(form["action"])} for form in told["forms"]
            ]
        if "then" in told:
            told["then"] = self.answer(told["then"])
        return told


def _differences(before, after):
    """Each difference as (pattern of the old address, its kind, key, lines)."""
    for key in sorted({*before, *after}):
        old, new = before.get(key), after.get(key)
        if old is None:
            yield new["route"], "new", key, [f"= {new['status']} {_title(new)}"]
        elif new is None:
            yield old["route"], "gone", key, [f"= {old['status']} {_title(old)}"]
        else:
            for kind, lines in _between(old, new):
                yield old["route"], kind, key, lines


def _title(answer):
    return next(iter(answer.get("text", [])), "")


def _between(old, new, after=""):
    """The kinds in which two answers differ, with the lines that say so."""
    plain = {
        "failed": "failed",
        "status": "status",
        "leads to": "to",
        "kind": "kind",
        "name": "name",
        "bytes": "bytes",
    }
    for kind, name in plain.items():
        if old.get(name) != new.get(name):
            yield after + kind, [f"= {old.get(name)} -> {new.get(name)}"]
    yield from _between_texts(old, new, after)
    for name in ("links", "pictures", "parts"):
        if lines := _changes(old.get(name, []), new.get(name, [])):
            yield after + "links", lines
    if lines := _changes(_forms(old), _forms(new)):
        yield after + "forms", lines
    if "then" in old and "then" in new:
        yield from _between(old["then"], new["then"], "then ")


def _between_texts(old, new, after):
    if _as_read(old) != _as_read(new):
        changed = _changes if "pages" in old else _changed_words
        yield after + "text", changed(_as_read(old), _as_read(new))
    elif (old.get("pages"), old.get("look")) != (new.get("pages"), new.get("look")):
        yield (
            after + "look",
            [f"= {old.get('pages')} -> {new.get('pages')} pages, the same text, another look"],
        )


def _as_read(answer):
    """A paper's lines, a page's words: where a page's lines end depends on the markup."""
    lines = answer.get("text", [])
    return lines if "pages" in answer else " ".join(lines).split()


def _changed_words(old, new):
    """What one text says and the other does not, with two words before it."""
    lines = []
    for tag, i, j, k, m in difflib.SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if tag != "equal":
            lines += [f"  … {' '.join(old[max(i - 2, 0) : i])}"]
            lines += [f"- {' '.join(old[i:j])}"] if i < j else []
            lines += [f"+ {' '.join(new[k:m])}"] if k < m else []
    return lines


def _changes(old, new):
    lines = difflib.unified_diff(old, new, lineterm="", n=1)
    return [line for line in lines if not line.startswith(("---", "+++"))]


def _forms(answer):
    """The forms of a page, one line for each form, field and button, in the order of their addresses."""
    lines = []
    for form in sorted(
        answer.get("forms", []), key=lambda each: (each["action"], json.dumps(each))
    ):
        lines.append(f"{form['method']} {form['action']}")
        lines += sorted(json.dumps({"form": form["action"], **field}) for field in form["fields"])
        lines += [json.dumps({"form": form["action"], **button}) for button in form["buttons"]]
    return lines
