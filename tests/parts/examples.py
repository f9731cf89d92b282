"""Every shared part, as it looks empty, with one, with many, late, refused and with long words.

EXAMPLES: the part's file name -> what the example shows -> what the part is given.
AROUND: parts that only make sense inside something.
"""

from dataclasses import replace
from datetime import date
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.messages.storage.base import Message
from django.core.paginator import Paginator

from production.frames.design import Box
from production.frames.drawing import Limb, Proof

LONG = "Featherstonehaugh-Cholmondeley-Llanfairpwllgwyngyllgogerychwyrndrobwllllantysiliogogogoch"
HOSTILE = """<script>alert("1")</script> & 'friends'"""
KEY = "7f1a0f6e-2f5b-4e0c-9c61-1d2b3c4d5e6f"
DAY = date(2026, 12, 3)

A_PROOF = Proof(
    width_mm=300.0,
    height_mm=250.0,
    face_mm=20.0,
    opening=Box(20.0, 20.0, 260.0, 210.0),
    limbs=(
        Limb("left hand", False, Box(40.0, 50.0, 90.0, 120.0), "translate(85 110)"),
        Limb("right foot", True, Box(160.0, 50.0, 90.0, 120.0), "translate(185 80)"),
    ),
    plate=Box(110.0, 190.0, 80.0, 20.0),
    plate_words="Wren",
    backing="oat",
    finish="limed",
    backing_words="Oat linen",
    finish_words="Limed oak",
    ruler_mm=100,
    words="A left hand and a right foot on oat linen in limed oak.",
    size_words="30 × 25 cm",
)

Example = dict[str, Any]


class SittingForm(forms.Form):
    key = forms.UUIDField(widget=forms.HiddenInput, initial=KEY)
    family = forms.CharField(label="Family", help_text="The surname that goes on the invoice.")
    born_on = forms.DateField(
        label="Born", required=False, widget=forms.DateInput(attrs={"type": "date"})
    )
    limb = forms.ChoiceField(
        label="Limb",
        help_text="One at a time.",
        choices=[("left hand", "Left hand"), ("right foot", "Right foot")],
        widget=forms.RadioSelect,
    )
    uses = forms.MultipleChoiceField(
        label="Photos may be used",
        required=False,
        choices=[("site", "on the site"), ("fair", "at fairs")],
        widget=forms.CheckboxSelectMultiple,
    )
    finish = forms.ChoiceField(label="Finish", choices=[("waxed", "Waxed"), ("limed", "Limed")])
    mass_g = forms.IntegerField(label="Mass")
    photo = forms.FileField(label="Photo", required=False)
    note = forms.CharField(label="Note", widget=forms.Textarea, required=False)
    agreed = forms.BooleanField(label="The parent has read the terms", help_text="All of them.")


def blank() -> SittingForm:
    return SittingForm()


def refused() -> SittingForm:
    form = SittingForm({"family": "", "mass_g": "heavy", "limb": "tail", "key": KEY})
    form.add_error(None, "The day is taken. Choose another.")
    return form


def steps(now: int) -> list[Example]:
    labels = ["Sitting", "Clay resting", "Casting", "Drying", "Framing", "Ready", "Gone home"]
    return [
        {
            "label": label,
            "state": "done" if place < now else "now" if place == now else "ahead",
            "day": DAY if place <= now else None,
        }
        for place, label in enumerate(labels)
    ]


def job(**changes: Any) -> Example:
    return {
        "reference": "CY8Y-EGPH",
        "url": "/jobs/CY8Y-EGPH/",
        "family": "Penhaligon",
        "children": "Wren and Tobias",
        "kind": "damp",
        "stage": "drying, about 4 more days",
        "due": DAY,
    } | changes


def cell(label: str, text: str, **more: Any) -> Example:
    return {"label": label, "text": text} | more


def invoice(number: int) -> list[Example]:
    return [
        cell("Invoice", f"2026-{number:04}", url=f"/invoices/{number}/"),
        cell(
            "State", "7 days late" if number % 2 else "paid", kind="late" if number % 2 else "done"
        ),
        cell("Owed", "£85.00", num=True),
    ]


HEADS = [{"label": "Invoice"}, {"label": "State"}, {"label": "Owed", "num": True}]
MESSAGES = [
    Message(level, f"{words} <b>")
    for level, words in (
        (messages.SUCCESS, "The sitting is booked."),
        (messages.INFO, LONG),
        (messages.WARNING, "Glass is short."),
        (messages.ERROR, "The sheet was not printed."),
    )
]
JOBS = {
    "one": job(),
    "late": job(kind="late", stage="drying, 2 days late", note="Weighed 0 times."),
    "not due": job(due=None, kind="plain", stage="booked"),
    "long words": job(family=LONG, children=LONG, stage=LONG, note=LONG),
    "hostile": job(family=HOSTILE, children=HOSTILE, stage=HOSTILE, note=HOSTILE),
}

EXAMPLES: dict[str, dict[str, Example]] = {
    "busy.html": {"one": {"id": "busy", "words": "Working out the cuts…"}},
    "button.html": {
        "main": {"label": "Pour 3 pieces"},
        "quiet": {"label": "Not today", "variant": "quiet", "name": "answer", "value": "no"},
        "danger": {"label": "Call off", "variant": "danger"},
        "link": {"label": "Book a sitting", "url": "/sittings/new/"},
        "long words": {"label": LONG},
        "hostile": {"label": HOSTILE, "name": HOSTILE, "value": HOSTILE},
    },
    "caution.html": {
        "one": {"title": "Plaster burns", "points": ["No skin in wet plaster."]},
        "many": {"title": "Plaster burns", "points": ["Mask on.", "Wipe up wet.", LONG]},
    },
    "differences.html": {
        "one": {"differences": [{"label": "Phone", "theirs": "01632 960001", "yours": ""}]},
        "hostile": {"differences": [{"label": HOSTILE, "theirs": LONG, "yours": HOSTILE}]},
    },
    "empty.html": {
        "words only": {"title": "Nothing is drying", "words": "Pieces come here once demoulded."},
        "with a way": {"title": "No family yet", "words": LONG, "url": "/new/", "label": "Add one"},
    },
    "field.html": {
        f"{name}, {state}": {"field": form[name], "unit": unit}
        for state, form in (("blank", blank()), ("refused", refused()))
        for name, unit in (
            ("family", ""),
            ("born_on", ""),
            ("limb", ""),
            ("uses", ""),
            ("finish", ""),
            ("mass_g", "g"),
            ("photo", ""),
            ("note", ""),
            ("agreed", ""),
        )
    },
    "form.html": {
        "blank": {"form": blank(), "action": "/sittings/", "submit": "Book the sitting"},
        "refused": {
            "form": refused(),
            "action": "/sittings/",
            "submit": "Book the sitting",
            "back_url": "/",
        },
    },
    "form_errors.html": {"sound": {"form": blank()}, "refused": {"form": refused()}},
    "job_row.html": JOBS,
    "job_slip.html": {
        name: given | {"pieces": "left hand, right foot"} for name, given in JOBS.items()
    },
    "key.html": {"one": {"key": KEY}},
    "mark.html": {"one": {}},
    "messages.html": {"none": {"messages": []}, "many": {"messages": MESSAGES}},
    "money.html": {
        "one": {"amount": 8500, "currency": "GBP"},
        "nothing": {"amount": 0, "currency": "GBP", "big": True},
        "paid back": {"amount": -123456789, "currency": "GBP"},
    },
    "pager.html": {
        "empty": {"page": Paginator([], 10).page(1), "name": "families"},
        "one page": {"page": Paginator(range(9), 10).page(1), "name": "families"},
        "first": {"page": Paginator(range(99), 10).page(1), "name": "families"},
        "in the middle": {"page": Paginator(range(99), 10).page(5), "name": "families"},
        "last": {"page": Paginator(range(99), 10).page(10), "name": "families"},
    },
    "panel.html": {
        "one": {"anchor": "late", "heading": "Late", "content": "Nothing."},
        "wide": {"anchor": "late", "heading": "Late", "variant": "wide", "body": "stack"},
        "long words": {"anchor": "late", "heading": LONG, "note": LONG, "content": LONG},
        "hostile": {"anchor": "late", "heading": HOSTILE, "note": HOSTILE, "content": HOSTILE},
    },
    "frame_proof.html": {
        "the family's": {"proof": A_PROOF, "id": "drawn"},
        "the owner's": {"proof": A_PROOF, "id": "drawn", "exact": True},
        "hostile": {"proof": replace(A_PROOF, words=HOSTILE), "id": "drawn"},
    },
    "photo.html": {
        "one": {"url": "/p/1.jpg", "alt": "Wren, left hand", "width": 400, "height": 300},
        "long words": {
            "url": "/p/1.jpg",
            "alt": HOSTILE,
            "width": 400,
            "height": 300,
            "caption": LONG,
        },
    },
    "press.html": {
        "one": {"url": "/demould/", "label": "Demould", "key": KEY, "seen": "casting"},
        "long words": {"url": "/x/", "label": LONG, "key": KEY, "name": "why", "value": HOSTILE},
    },
    "progress.html": {
        "begun": {"id": "sheets", "label": "Invoices", "done": 0, "total": 12},
        "done": {"id": "sheets", "label": "Invoices", "done": 12, "total": 12},
    },
    "refused.html": {
        "one": {"reasons": ["2 of the pieces are still damp."]},
        "many": {
            "title": "Framing has not begun.",
            "reasons": ["2 pieces are damp.", "Glass is short.", LONG, HOSTILE],
            "kept": "The job is still drying.",
            "next": "Weigh them tomorrow.",
            "url": "/bench/",
            "label": "Back to the bench",
        },
    },
    "stage_strip.html": {
        "first": {"steps": steps(0)},
        "in the middle": {"steps": steps(3), "name": "Job CY8Y-EGPH"},
        "all done": {"steps": steps(7)},
        "none": {"steps": []},
        "long words": {"steps": [{"label": LONG, "state": "now", "day": DAY}]},
    },
    "status.html": {
        **{
            kind: {"kind": kind, "words": "as things stand"}
            for kind in ("done", "late", "damp", "info", "plain")
        },
        "on its own line": {"kind": "late", "words": LONG, "block": True},
        "hostile": {"kind": "", "words": HOSTILE},
    },
    "table.html": {
        "empty": {"caption": "Invoices", "heads": HEADS, "rows": []},
        "one": {"caption": "Invoices", "heads": HEADS, "rows": [invoice(1)]},
        "many": {"caption": "Invoices", "heads": HEADS, "rows": [invoice(n) for n in range(30)]},
        "long words": {
            "caption": LONG,
            "heads": [{"label": LONG}],
            "rows": [[cell(LONG, HOSTILE)]],
        },
    },
}

AROUND = {
    "job_row.html": '<ul class="rows">{}</ul>',
    "key.html": '<form action="/">{}</form>',
}
