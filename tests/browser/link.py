"""A poor link between the tablet and the studio: real sockets on loopback, HTTP/1.1, one request a connection.

It lets through, is cut, or is poor: then half of the requests are lost (some before the studio sees
them, some with only the answer lost) and a tenth arrives twice. `spoil` changes what goes through,
for the controls that show what the app's own safety is worth.
"""

import random
import socket
import threading
from collections import Counter
from contextlib import suppress

LOST, REPEATED = 0.5, 0.1
_LONGEST = 65_536


class Link:
    """`url` leads to the studio at `(host, port)`; `mode` is "open", "cut" or "poor"."""

    def __init__(self, host, port, *, seed=1, spoil=None):
        self.home = (host, port)
        self.mode = "open"
        self.counts = Counter()
        self.spoil = spoil
        self._chance = random.Random(seed)  # noqa: S311 - to be repeated
        self._lock = threading.Lock()
        self._door = socket.create_server(("127.0.0.1", 0))
        self.url = f"http://127.0.0.1:{self._door.getsockname()[1]}"
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def close(self):
        # Closing alone does not wake a thread that waits in accept().
        with suppress(OSError):
            self._door.shutdown(socket.SHUT_RDWR)
        self._door.close()
        self._thread.join(10)

    def _serve(self):
        while True:
            try:
                client, _ = self._door.accept()
            except OSError:
                return
            threading.Thread(target=self._pass_on, args=(client,), daemon=True).start()

    def _pass_on(self, client):
        with client, suppress(OSError):
            client.settimeout(60)
            request = _message(client)
            if not request or (fate := self._fate()) == "lost before":
                return
            answer = self._forward(request)
            if fate == "lost after":
                return
            if fate == "repeated":
                answer = self._forward(request)
            client.sendall(answer)

    def _fate(self):
        with self._lock:
            if self.mode == "cut":
                return "lost before"
            fate = "passed"
            if self.mode == "poor":
                if self._chance.random() < LOST:
                    fate = self._chance.choice(["lost before", "lost after"])
                elif self._chance.random() < REPEATED / (1 - LOST):
                    fate = "repeated"
                self.counts[fate] += 1
                self.counts["all"] += 1
            return fate

    def _forward(self, request):
        head, _, body = request.partition(b"\r\n\r\n")
        spoilt = self.spoil.request(head, body) if self.spoil else body
        head = _without(head, b"connection", b"content-length")
        head += b"\r\nConnection: close"
        if spoilt or head.startswith(b"POST"):
            head += b"\r\nContent-Length: %d" % len(spoilt)
        with socket.create_connection(self.home, timeout=60) as studio:
            studio.sendall(head + b"\r\n\r\n" + spoilt)
            answer = b""
            while more := studio.recv(_LONGEST):
                answer += more
        return self.spoil.answer(request, answer) if self.spoil else answer


def _message(client):
    """One whole request, or nothing where the other side hung up."""
    content = b""
    while b"\r\n\r\n" not in content:
        more = client.recv(_LONGEST)
        if not more:
            return b""
        content += more
    head, _, body = content.partition(b"\r\n\r\n")
    length = next(
        (
            int(line.split(b":")[1])
            for line in head.lower().split(b"\r\n")
            if line.startswith(b"content-length:")
        ),
        0,
    )
    while len(body) < length:
        more = client.recv(_LONGEST)
        if not more:
            return b""
        body += more
    return head + b"\r\n\r\n" + body


def _without(head, *names):
    lines = head.split(b"\r\n")
    return b"\r\n".join(line for line in lines if line.split(b":")[0].strip().lower() not in names)
