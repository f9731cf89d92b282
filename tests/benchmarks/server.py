"""The site as bin/start serves it, with one worker, on a free port of this machine; and a browser's GET."""

import socket
import subprocess
import sys
import time
from contextlib import contextmanager
from dataclasses import dataclass

HOST = "127.0.0.1"
SECONDS_TO_START = 30


@dataclass(frozen=True)
class Answer:
    status: int
    headers: dict[str, str]
    body: bytes
    size_bytes: int  # as received, head and body


@dataclass(frozen=True)
class Server:
    port: int

    def get(self, path, cookie="", accept_encoding="gzip, deflate, br"):
        """GET on a connection of its own: kept-alive ones would choose the thread that answers."""
        head = (
            f"GET {path} HTTP/1.1\r\nHost: {HOST}:{self.port}\r\nConnection: close\r\n"
            f"Accept-Encoding: {accept_encoding}\r\nCookie: {cookie}\r\n\r\n"
        )
        received = []
        with socket.create_connection((HOST, self.port), timeout=120) as connection:
            connection.sendall(head.encode())
            while chunk := connection.recv(262_144):
                received.append(chunk)
        return _parsed(b"".join(received))

    def page(self, path, cookie=""):
        """GET of a page that must be there: the time of an error page would mean nothing."""
        answer = self.get(path, cookie)
        if answer.status != 200:
            raise RuntimeError(f"{path} answered {answer.status}: {answer.body[:300]!r}")
        return answer


@contextmanager
def serving(environment):
    """A running server; it ends with the block."""
    with socket.socket() as free:
        free.bind((HOST, 0))
        port = free.getsockname()[1]
    arguments = (
        f"tests.benchmarks.wsgi --bind {HOST}:{port} --workers 1 "
        "--worker-class gthread --threads 4 --no-control-socket --log-level warning"
    )
    process = subprocess.Popen(
        [sys.executable, "-m", "gunicorn", *arguments.split()], env=environment
    )
    try:
        _wait_for(port, process)
        yield Server(port)
    finally:
        process.terminate()
        process.wait()


def _wait_for(port, process):
    until = time.monotonic() + SECONDS_TO_START
    while time.monotonic() < until and process.poll() is None:
        try:
            socket.create_connection((HOST, port), timeout=1).close()
        except OSError:
            time.sleep(0.05)
        else:
            return
    raise RuntimeError("The server did not start; what it said stands above.")


def _parsed(received):
    head, _, body = received.partition(b"\r\n\r\n")
    first, *lines = head.decode("latin-1").split("\r\n")
    pairs = (line.split(":", 1) for line in lines)
    headers = {name.lower(): value.strip() for name, value in pairs}
    return Answer(int(first.split()[1]), headers, body, len(received))
