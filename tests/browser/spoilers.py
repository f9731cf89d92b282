"""What takes the tablet's safety away, on the link: the controls of the tests that show it."""

import json
import uuid

KEPT_LATER = b"""
// A store that says "kept" before it has: what the screen shows is ahead of it by a moment.
const ahead = new Map();
const AHEAD_MS = 400;
export function keep(visit, said, photo = null) {
  const written = { ...visit, rev: (visit.rev ?? 0) + 1 };
  ahead.set(visit.sitting, written);
  setTimeout(() => keepWell(visit, said, photo), AHEAD_MS);
  return Promise.resolve(written);
}
export const visits = async () => {
  const held = (await all("visits")).filter((each) => !ahead.has(each.sitting));
  return [...held, ...ahead.values()];
};
"""


class Spoiler:
    """Lets everything through as it is."""

    def request(self, head, body):
        return body

    def answer(self, request, answer):
        return answer


class NewKeys(Spoiler):
    """Every time an entry is sent it has a new key, as if keys were made when it is sent."""

    def __init__(self):
        self.first = {}

    def request(self, head, body):
        if not head.startswith(b"POST /tablet/entries/"):
            return body
        sent = json.loads(body)
        for entry in sent["entries"]:
            key = str(uuid.uuid4())
            self.first[key] = entry["key"]
            entry["key"] = key
        return json.dumps(sent).encode()

    def answer(self, request, answer):
        for new, first in list(self.first.items()):
            answer = answer.replace(new.encode(), first.encode())
        return answer


class KeptLater(Spoiler):
    """The screen moves before the answer is stored."""

    def answer(self, request, answer):
        if not request.startswith(b"GET /static/js/sitting/store.js"):
            return answer
        head, _, body = answer.partition(b"\r\n\r\n")
        body = body.replace(b"export function keep(", b"function keepWell(")
        body = body.replace(b"export const visits = ", b"export const visitsStored = ") + KEPT_LATER
        lines = [
            line
            for line in head.split(b"\r\n")
            if not line.lower().startswith((b"content-length", b"etag"))
        ]
        return b"\r\n".join([*lines, b"Content-Length: %d" % len(body)]) + b"\r\n\r\n" + body
