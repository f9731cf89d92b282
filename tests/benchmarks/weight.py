"""What a browser with nothing kept fetches before a page stands: bytes as served, requests, hosts."""

import re
from html.parser import HTMLParser
from urllib.parse import urljoin, urlsplit

from tests.benchmarks.measure import Weight

FETCHED = {"stylesheet", "icon", "manifest", "preload", "modulepreload", "apple-touch-icon"}
IN_STYLE = re.compile(rb"""(?:url\(\s*['"]?|@import\s+['"])([^'")]+)""")
IN_SCRIPT = re.compile(rb"""\b(?:from|import)\s*\(?\s*["']([\w./-]+\.m?js)["']""")
MOST_REDIRECTS = 5


def first_view(server, what, path, cookie, goal_kb):
    """Follows the page as a browser does; a cookie that is set on the way is sent from then on."""
    here = f"http://127.0.0.1:{server.port}"
    answer, size_bytes, requests = server.get(path, cookie), 0, 0
    for _ in range(MOST_REDIRECTS):
        size_bytes, requests = size_bytes + answer.size_bytes, requests + 1
        if not 300 <= answer.status < 400:
            break
        path = answer.headers["location"]
        given = answer.headers.get("set-cookie", "").partition(";")[0]
        answer = server.get(path, given or cookie)
    if answer.status != 200:
        raise RuntimeError(f"{path} answered {answer.status}")
    waiting, seen, others = _of_page(answer.body, here + path), set(), set()
    while waiting:
        address = waiting.pop()
        parts = urlsplit(address)
        if parts.scheme not in ("http", "https") or address in seen:
            continue
        seen.add(address)
        if not address.startswith(here):
            others.add(parts.netloc)
            continue
        answer = server.page(address.removeprefix(here), cookie)
        size_bytes, requests = size_bytes + answer.size_bytes, requests + 1
        waiting += _of_file(server, answer, address)
    return Weight(what, size_bytes, requests, sorted(others), goal_kb)


def _of_file(server, answer, address):
    kind = answer.headers.get("content-type", "")
    pattern = IN_STYLE if "css" in kind else IN_SCRIPT if "javascript" in kind else None
    if pattern is None:
        return []
    text = _plain(server, address)
    return [urljoin(address, found.decode()) for found in pattern.findall(text)]


def _plain(server, address):
    """The file without compression, to look for what it fetches in turn."""
    return server.get(urlsplit(address).path, accept_encoding="identity").body


def _of_page(html, address):
    found = _Fetched()
    found.feed(html.decode())
    return [urljoin(address, each) for each in found.addresses]


class _Fetched(HTMLParser):
    """The addresses that a page has its browser fetch."""

    def __init__(self):
        super().__init__()
        self.addresses = []

    def handle_starttag(self, tag, attrs):
        given = {name: value for name, value in attrs if value}
        if tag == "link" and FETCHED & set(given.get("rel", "").split()):
            self.addresses.append(given["href"])
        elif tag in ("script", "img", "source", "iframe", "video", "audio") and "src" in given:
            self.addresses.append(given["src"])
        for source in given.get("srcset", "").split(","):
            if source.strip():
                self.addresses.append(source.split()[0])
