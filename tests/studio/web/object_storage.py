"""A small object storage on loopback that speaks as much S3 as the real client asks for: put, in parts as
well, get, head, delete, list by folder. It keeps what it is told of every object, to be looked at.
"""

import hashlib
import re
import threading
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from email.utils import format_datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import parse_qs, unquote, urlsplit
from xml.sax.saxutils import escape

SIGNED = re.compile(r"AWS4-HMAC-SHA256 Credential=(?P<key>[^/]+)/\d{8}/(?P<region>[^/]+)/s3/")

_XMLNS = 'xmlns="http://s3.amazonaws.com/doc/2006-03-01/"'


@dataclass
class Kept:
    content: bytes
    headers: dict[str, str]
    at: datetime = field(default_factory=lambda: datetime.now(UTC))

    @property
    def etag(self):
        return f'"{hashlib.md5(self.content, usedforsecurity=False).hexdigest()}"'


class ObjectStorage(ThreadingHTTPServer):
    """`objects` by their key; `asked`: (method, key, access key) of every request."""

    daemon_threads = True

    def __init__(self, bucket):
        super().__init__(("127.0.0.1", 0), _Handler)
        self.bucket, self.objects, self.asked, self.parts = bucket, {}, [], {}

    @property
    def endpoint(self):
        return f"http://127.0.0.1:{self.server_address[1]}"


@contextmanager
def object_storage(bucket):
    server = ObjectStorage(bucket)
    thread = threading.Thread(target=server.serve_forever, args=(0.05,))
    thread.start()
    try:
        yield server
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


class _Handler(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"

    def log_message(self, *_):
        pass

    def _serve(self):
        address = urlsplit(self.path)
        _, bucket, key = unquote(address.path).split("/", 2) if address.path.count("/") > 1 else (
            "", unquote(address.path[1:]), "",
        )  # fmt: skip
        query = {name: values[0] for name, values in parse_qs(address.query, True).items()}
        body = self.rfile.read(int(self.headers.get("Content-Length", 0)))
        signed = SIGNED.match(self.headers.get("Authorization", ""))
        self.server.asked.append((self.command, key, signed["key"] if signed else None))
        if not signed:
            self._answer(403, self._error("AccessDenied"))
        elif bucket != self.server.bucket:
            self._answer(404, self._error("NoSuchBucket"))
        else:
            getattr(self, f"_{self.command.lower()}")(key, query, body)

    do_GET = do_HEAD = do_PUT = do_POST = do_DELETE = _serve  # noqa: N815 - the names of http.server

    def _put(self, key, query, body):
        if "uploadId" in query:
            self.server.parts[query["uploadId"]][int(query["partNumber"])] = body
            self._answer(200, headers={"ETag": Kept(body, {}).etag})
        else:
            self._keep(key, body, self.headers)
            self._answer(200, headers={"ETag": self.server.objects[key].etag})

    def _post(self, key, query, body):
        """A large one comes in parts: begun, and put together."""
        if "uploads" in query:
            upload = f"upload-{len(self.server.parts) + 1}"
            self.server.parts[upload] = {"headers": self.headers}
            inner = f"<Key>{escape(key)}</Key><UploadId>{upload}</UploadId>"
            self._answer(200, self._xml("InitiateMultipartUploadResult", inner))
        else:
            parts = self.server.parts.pop(query["uploadId"])
            headers = parts.pop("headers")
            self._keep(key, b"".join(parts[number] for number in sorted(parts)), headers)
            self._answer(200, self._xml("CompleteMultipartUploadResult", "<ETag>whole</ETag>"))

    def _keep(self, key, content, headers):
        told = {name.lower(): value for name, value in headers.items()}
        self.server.objects[key] = Kept(content, told)

    def _get(self, key, query, _body):
        if not key:
            return self._list(query)
        if key not in self.server.objects:
            return self._answer(404, self._error("NoSuchKey"))
        return self._send(self.server.objects[key])

    def _head(self, key, _query, _body):
        kept = self.server.objects.get(key)
        if kept is None:
            return self._answer(404)
        return self._send(kept)

    def _delete(self, key, _query, _body):
        self.server.objects.pop(key, None)
        self._answer(204)

    def _list(self, query):
        prefix, border = query.get("prefix", ""), query.get("delimiter", "")
        files, folders = [], set()
        for key in sorted(key for key in self.server.objects if key.startswith(prefix)):
            inside, found, _ = key[len(prefix) :].partition(border) if border else (key, "", "")
            if found:
                folders.add(prefix + inside + border)
            else:
                files.append(key)
        inner = "".join(
            f"<Contents><Key>{escape(key)}</Key><Size>{len(self.server.objects[key].content)}</Size>"
            f"<LastModified>{self.server.objects[key].at:%Y-%m-%dT%H:%M:%S.000Z}</LastModified></Contents>"
            for key in files
        ) + "".join(
            f"<CommonPrefixes><Prefix>{escape(folder)}</Prefix></CommonPrefixes>"
            for folder in sorted(folders)
        )
        self._answer(200, self._xml("ListBucketResult", f"<IsTruncated>false</IsTruncated>{inner}"))

    def _send(self, kept):
        content, status = kept.content, 200
        headers = {"ETag": kept.etag, "Last-Modified": format_datetime(kept.at, usegmt=True)}
        headers["Content-Type"] = kept.headers.get("content-type", "binary/octet-stream")
        if wanted := re.match(r"bytes=(\d+)-(\d*)", self.headers.get("Range", "")):
            start, whole = int(wanted[1]), len(content)
            content, status = content[start : int(wanted[2] or whole) + 1], 206
            headers["Content-Range"] = f"bytes {start}-{start + len(content) - 1}/{whole}"
        self._answer(status, content, headers)

    def _answer(self, status, content=b"", headers=None):
        self.send_response(status)
        for name, value in (headers or {}).items():
            self.send_header(name, value)
        self.send_header("Content-Length", str(len(content)))
        self.end_headers()
        if self.command != "HEAD":
            self.wfile.write(content)

    @staticmethod
    def _xml(name, inner):
        return f'<?xml version="1.0" encoding="UTF-8"?><{name} {_XMLNS}>{inner}</{name}>'.encode()

    @staticmethod
    def _error(code):
        return f"<Error><Code>{code}</Code><Message>{code}</Message></Error>".encode()
