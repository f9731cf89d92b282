"""A tablet in a test sends a photograph, part by part."""

import hashlib
import uuid

from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from tests import makers

PICTURE = makers.a_jpeg(900, 700, quality=95)


class Sending:
    """A photograph on its way; its parts are small here, so that there are several."""

    def __init__(self, tablet, job, *, raw=PICTURE, key=None, part=1024, **said):
        self.tablet, self.job, self.raw = tablet, job, raw
        self.part = max(part, len(raw) // 8)
        self.url = reverse("bookings:tablet_photo", args=[key or uuid.uuid4()])
        self.said = said

    def post(self, offset=0, /, chunk=None, **said):
        chunk = self.raw[offset : offset + self.part] if chunk is None else chunk
        sent = {
            "device": self.tablet.device,
            "total_bytes": len(self.raw),
            "sha256": hashlib.sha256(self.raw).hexdigest(),
            "offset": offset,
            "job": self.job.reference,
            "piece": "",
            "kind": "sitting",
            "said_at": self.tablet.now().isoformat(),
            "sent_at": self.tablet.now().isoformat(),
            "chunk": SimpleUploadedFile("part", chunk),
            **self.said,
            **said,
        }
        return self.tablet.client.post(self.url, sent)

    def have(self):
        return self.tablet.client.get(self.url).json()

    def all(self):
        """Send until it is kept or refused; the last answer."""
        for _ in range(20):
            answer = self.post(self.have()["have"])
            if answer.json().get("state"):
                return answer
        raise AssertionError("it never came to an end")
