"""A tablet in a test: it says things, and sends them."""

import itertools
import json
import uuid
from datetime import timedelta

from django.urls import reverse
from django.utils import timezone


class Tablet:
    """One device. `hours_fast`: its clock before ours. What it says is numbered as it says it."""

    def __init__(self, client, *, hours_fast=0):
        self.client = client
        self.device = str(uuid.uuid4())
        self.fast = timedelta(hours=hours_fast)
        self.count = itertools.count(1)

    def now(self):
        return timezone.now() + self.fast

    def entry(self, kind, sitting, facts, *, seen=None, minutes_ago=0, **more):
        return {
            "key": str(uuid.uuid4()),
            "seq": next(self.count),
            "kind": kind,
            "sitting": sitting if isinstance(sitting, int) else sitting.pk,
            "facts": facts,
            "seen": seen,
            "said_at": (self.now() - timedelta(minutes=minutes_ago)).isoformat(),
            **more,
        }

    def tap(self, clay_print, outcome="taken", *, seen=1, minutes_ago=0, **facts):
        """All that is said of a limb after a tap."""
        said = {
            "impression": clay_print.pk,
            "outcome": outcome,
            "tries": 0,
            "marks": {"flat": None, "toes": None, "depth": None},
            "length_mm": None,
            "note": "",
            "tray": "",
            **facts,
        }
        return self.entry(
            "impression", clay_print.sitting_id, said, seen=seen, minutes_ago=minutes_ago
        )

    def post(self, *entries, **more):
        sent = {
            "device": self.device,
            "sent_at": self.now().isoformat(),
            "entries": list(entries),
            **more,
        }
        return post(self.client, reverse("studio:keep_entries"), sent)

    def send(self, *entries):
        """The answers, one to each entry."""
        response = self.post(*entries)
        assert response.status_code == 200, response.content
        return response.json()["answers"]

    def choose(self, answer, choice):
        url = reverse("studio:settle_entry", args=[answer["resolve"]])
        return post(self.client, url, {"choice": choice, "seen": answer["version"]})

    def pack(self):
        response = self.client.get(reverse("studio:pack"))
        assert response.status_code == 200
        return response.json()


def post(client, url, sent):
    body = sent if isinstance(sent, str | bytes) else json.dumps(sent)
    return client.post(url, body, content_type="application/json")
