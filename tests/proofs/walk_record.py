"""Makes the demo once, and records what every person sees of a copy of it. See tests/proofs/walk.py."""

import json
import logging
import os
import random
import re
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections import Counter, defaultdict
from contextlib import suppress
from datetime import UTC, datetime
from http.cookies import SimpleCookie
from pathlib import Path
from urllib.parse import parse_qsl, urldefrag, urlsplit

from tests.proofs import walk_read as read

MADE = datetime(2026, 11, 24, 9, 10, tzinfo=UTC)  # a Tuesday; the demo is dated around it
WALKED = datetime(2026, 11, 25, 10, 20, tzinfo=UTC)  # the day after
HOST = "localhost"
APPS = ("studio", "bookings", "production", "orders")
STARTS = {
    "owner": ["/"],
    "helper": ["/"],
    "office": ["/"],
    "nobody": ["/", "/log-in/", "/first-run/", "/follow/none", "/follow/", "/admin/", "/none/"],
}
POSTING = ("owner", "family")
NOT_POSTED = re.compile(r"^/log-out/")
NOT_OPENED = re.compile(r"^/(admin/.|log-out/|static/)")
MOST_ALIKE = 12  # addresses that differ only in a query or a week: they lead on for ever
# What is done on top of the demo, so that each kind of stored fact is there once: the page, the link on
# it that leads to the form ("" where the form is on the page), how the form's address ends, what is
# filled in besides what it shows, how often.
DEEDS = [
    (
        "/jobs/{drying}/",
        "/promise/$",
        "/promise/",
        {"promised_on": "2027-01-20", "why": "Gran is away."},
        1,
    ),
    (
        "/jobs/{casting}/",
        "/promise/$",
        "/promise/",
        {"promised_on": "2027-02-10", "why": "A move."},
        1,
    ),
    ("/bench/plan/", r"/pin/\?", "/pin/", {}, 2),
    ("/bench/plan/?by=job", "", "/courier/", {}, 1),
    ("/bench/plan/", "", "/plan/anew/", {}, 1),
    ("/bench/weeks/2026-W48/", "", "/print/", {}, 1),
    ("/jobs/{framing}/order/", "/effort/$", "/effort/", {"hand_minutes": "90", "minutes": "90"}, 1),
]
MOST_POSTED = 10  # of the forms of one pattern
MOST_SEEN = 40  # of one pattern, by all but the owner and the family
_clock = {"now": MADE}


class _Counted:
    """Random bytes that begin anew at each request, so that a recording can be repeated."""

    def __init__(self):
        self.generator = random.Random()  # noqa: S311 - the same at each run

    def begin(self, seed):
        self.generator.seed(seed)
        random.seed(seed)

    def __call__(self, length):
        return self.generator.randbytes(length)


_bytes = _Counted()


def _set_up(database, media):
    """Load Django on this database, with the clock and all randomness in our hands."""
    os.environ |= {
        "DJANGO_SETTINGS_MODULE": "studio.settings",
        "DEBUG": "true",
        "CASTSTEAD_HTTPS": "false",
        "DATABASE_URL": f"sqlite:///{database.resolve()}",
        "CASTSTEAD_MEDIA": str(media.resolve()),
    }
    os.environ.pop("CASTSTEAD_PHOTOS", None)
    sys.path.insert(0, str(Path.cwd()))

    from django.utils import timezone  # noqa: PLC0415 - the models take `timezone.now` as a default

    timezone.now = lambda: _clock["now"]
    _bytes.begin("loading")
    os.urandom = random._urandom = _bytes

    import django  # noqa: PLC0415
    from django.test.utils import setup_test_environment  # noqa: PLC0415

    django.setup()
    setup_test_environment(debug=False)
    logging.disable(logging.CRITICAL)


def make(home):
    """Load the demo into the folder, let the worker finish, and note who logs in and the families' links."""
    home.mkdir(parents=True, exist_ok=True)
    database, media = home / "demo.sqlite3", home / "media"
    assert not database.exists(), f"{database} is there already."
    _set_up(database, media)
    from django.apps import apps  # noqa: PLC0415
    from django.core.management import call_command  # noqa: PLC0415
    from django.db import connection  # noqa: PLC0415

    call_command("migrate", verbosity=0)
    call_command("load_demo")
    people = {}
    for each in apps.get_model("studio", "Membership").objects.order_by("pk"):
        people.setdefault(str(each.role), each.user.email)
    (home / "people.json").write_text(json.dumps(people, indent=1))
    owner = _client(people["owner"])
    (home / "link.txt").write_text("".join(f"{link}\n" for link in _links(owner)))
    _do_more(owner)
    _finish_work()
    connection.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()
    sys.stdout.write(f"{database}: {database.stat().st_size:,} bytes; {people}\n")


def _finish_work():
    from django.core.management import call_command  # noqa: PLC0415

    with suppress(SystemExit):  # so the worker says that it is done
        call_command("work", batch=True, verbosity=0)


def _do_more(owner):
    """Do the DEEDS as the owner, and store every second invoice's paper: the others are drawn anew."""
    from django.apps import apps  # noqa: PLC0415

    jobs = apps.get_model("studio", "Job").objects.order_by("-pk")
    references = {str(job.stage): f"{job.reference[:4]}-{job.reference[4:]}" for job in jobs}
    for page, link, end, values, times in DEEDS:
        address = page.format(**references)
        pages = [address]
        if link:
            pages = [each for each in _page(owner, address)["links"] if re.search(link, each)]
        forms = [(each, form) for each in pages for form in _page(owner, each)["forms"]]
        wanted = [
            (each, form) for each, form in forms if form["action"].split("?")[0].endswith(end)
        ]
        if not wanted:
            sys.stdout.write(f"No form for {end} at {address}.\n")
        for at, form in wanted[:times]:
            _bytes.begin(f"do {form['action']}")
            sent = read.sends(form, form["buttons"][0], emptied=False) | values
            answer = owner.post(form["action"], sent, headers={"host": HOST})
            sys.stdout.write(f"{answer.status_code} {form['action']} from {at}\n")
    numbers = (
        apps.get_model("orders", "Invoice").objects.order_by("pk").values_list("number", flat=True)
    )
    for number in numbers[::2]:
        owner.get(f"/invoices/{number}.pdf", headers={"host": HOST})


def _links(owner):
    """A family's link for one job at each stage, made by the form on the job's page."""
    from django.apps import apps  # noqa: PLC0415

    seen = set()
    for job in apps.get_model("studio", "Job").objects.order_by("pk"):
        if job.stage in seen:
            continue
        address = f"/jobs/{job.reference[:4]}-{job.reference[4:]}/"
        for form in _page(owner, address)["forms"]:
            if form["action"].endswith("/links/make/"):
                _bytes.begin(address)
                sent = read.sends(form, None, emptied=False)
                answer = owner.post(form["action"], sent, follow=True, headers={"host": HOST})
                if found := re.search(r"/follow/[\w-]{20,}", answer.content.decode()):
                    seen.add(job.stage)
                    yield found.group()
                    break


def _page(client, address):
    return read.page(client.get(address, headers={"host": HOST}).content, address)


def _client(email=None):
    from django.contrib.auth import get_user_model  # noqa: PLC0415
    from django.test import Client  # noqa: PLC0415

    client = Client(raise_request_exception=False)
    if email:
        client.force_login(get_user_model().objects.get(email=email))
    return client


def record(home, out, *, also=None, only="", who="", moved=()):
    """Walk through a copy of the demo in `home` and write what was seen to `out`/walk.json.

    The owner, who meets most, has a process of its own beside one for all others.
    """
    out.mkdir(parents=True, exist_ok=True)
    if who:
        found = _walk(home, also, only, who.split(","), moved)
        (out / f"{who}.json").write_text(json.dumps(found))
        return
    began = time.monotonic()
    halves = ("owner", "helper,office,family,nobody")
    command = [
        sys.executable,
        "-m",
        "tests.proofs.walk",
        "record",
        str(home),
        str(out),
        "--only",
        only,
    ]
    command += ["--also", str(also)] if also else []
    processes = [subprocess.Popen([*command, "--who", half]) for half in halves]
    codes = [process.wait() for process in processes]
    assert not any(codes), "A recording broke off."
    answers, stored = {}, []
    for half in halves:
        part = out / f"{half}.json"
        found = json.loads(part.read_text())
        answers |= found["answers"]
        stored = found["stored"]
        part.unlink()
    found = {"answers": answers, "stored": stored}
    (out / "walk.json").write_text(json.dumps(found, indent=1, sort_keys=True))
    _step(f"{len(answers)} answers, {len(stored)} stored files, in {out}", began)


def _walk(home, also, only, people, moved):
    """What these people see, and the sums of what is stored."""
    began = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="walk-") as folder:
        database, media = Path(folder) / "demo.sqlite3", Path(folder) / "media"
        with sqlite3.connect(home / "demo.sqlite3") as kept, sqlite3.connect(database) as copy:
            kept.backup(copy)
        shutil.copytree(home / "media", media)
        _clock["now"] = WALKED
        _set_up(database, media)
        from django.core.management import call_command  # noqa: PLC0415

        call_command("migrate", verbosity=0)
        walk = Walk(only=only, stored=_stored(media))
        for who, starts in _people(home, also, moved):
            if who in people:
                _step(f"{who}: {walk.look_round(who, *starts)} addresses", began)
        _step(f"{walk.post_forms()} posts by {people}", began)
    return {"answers": walk.answers, "stored": sorted(walk.stored)}


def _step(text, began):
    sys.stdout.write(f"{time.monotonic() - began:6.0f} s  {text}\n")
    sys.stdout.flush()


def _people(home, also, moved):
    """Each person with a client and the addresses to begin at."""
    people = json.loads((home / "people.json").read_text())
    earlier = defaultdict(list)
    if also:
        for key in json.loads((also / "walk.json").read_text())["answers"]:
            who, method, address = key.split(" ", 2)
            if method == "GET":
                earlier[who.split("-")[0]].append(_where_now(address, moved))
    for who, starts in STARTS.items():
        yield who, (_client(people.get(who)), starts, earlier[who])
    links = (home / "link.txt").read_text().split()
    client = _client()
    for link in links:
        client.get(link, headers={"host": HOST})  # the session then remembers this family's job
    yield "family", (client, links, earlier["family"])


def _where_now(address, moved):
    for old, new in dict(moved).items():
        address = re.sub(old, new, address)
    return address


def _stored(media):
    """The sums of all files beside the database and of all bytes inside it."""
    from django.apps import apps  # noqa: PLC0415
    from django.db import models  # noqa: PLC0415

    sums = {read.digest(file.read_bytes()) for file in media.rglob("*") if file.is_file()}
    for model in apps.get_models():
        for field in model._meta.get_fields():
            if isinstance(field, models.BinaryField):
                for data in model._base_manager.values_list(field.name, flat=True):
                    sums |= {read.digest(bytes(data))} if data else set()
    return sums


class Walk:
    """The answers met so far, by "who METHOD address"."""

    def __init__(self, *, only, stored):
        self.only, self.stored = only, stored
        self.answers, self.papers = {}, {}
        self.asked, self.began = 0, time.monotonic()
        self.clients, self.routes = {}, defaultdict(set)
        self.to_post = {who: [] for who in POSTING}

    def look_round(self, who, client, starts, earlier):
        """Open all that links lead to, level by level, then the patterns that none led to."""
        self.clients[who] = client
        self.alike, self.seen = Counter(), set()
        self._follow(who, [self.only] if self.only else starts)
        self._follow(who, earlier)
        if who in ("owner", "helper", "office") and not self.only:
            self._follow(who, sorted(self._led_to_by_no_link(who)))
        return len(self.seen)

    def _follow(self, who, level):
        while level:
            found = set()
            for address in sorted(set(level), key=_plain_first):
                if self._is_new(who, address):
                    found |= self._open(who, address)
            level = found

    def _is_new(self, who, address):
        if address in self.seen or not address.startswith(self.only or "/"):
            return False
        parts = urlsplit(address)
        if who not in POSTING:
            self.alike[_route(address)] += 1
            if self.alike[_route(address)] > MOST_SEEN:
                return False
        if parts.query or re.search(r"\d{4}-W\d\d", parts.path):
            names = ",".join(sorted(name for name, _ in parse_qsl(parts.query)))
            path = re.sub(r"\d{4}-W\d\d", "(week)", parts.path)
            self.alike[path, names] += 1
            if self.alike[path, names] > MOST_ALIKE:
                return False
        self.seen.add(address)
        return True

    def _open(self, who, address):
        """Record the answer at the address, and return the addresses it leads to."""
        answer = self._ask(who, "get", address)
        self.answers[f"{who} GET {address}"] = answer
        self.routes[who].add(answer["route"])
        further = [*answer.get("links", []), *answer.get("pictures", []), answer.get("to", "")]
        for form in answer.get("forms", []):
            if form["method"] == "get":
                further.append(read.asks(form))
            elif who in POSTING:
                self.to_post[who].append((address, form))
        if answer.get("forms"):
            answer["forms"] = [read.without_fresh_keys(form) for form in answer["forms"]]
        for part in answer.get("parts", []):
            if (key := f"{who}-part GET {part}") not in self.answers and self._inside(part):
                self.answers[key] = self._ask(who, "get", part, headers={"HX-Request": "true"})
        return {inside for each in further if (inside := self._inside(each))}

    def _inside(self, address):
        """The address without host and anchor, or "" if it leaves the site or is not to be opened."""
        parts = urlsplit(urldefrag(address or "").url)
        if parts.scheme not in ("", "http", "https") or parts.netloc not in ("", HOST):
            return ""
        if not parts.path.startswith("/") or NOT_OPENED.match(parts.path):
            return ""
        return f"{parts.path}?{parts.query}" if parts.query else parts.path

    def _ask(self, who, method, address, sent=None, headers=None):
        """One request that leaves nothing behind, and its answer as plain data."""
        from django.db import transaction  # noqa: PLC0415

        self.asked += 1
        if self.asked % 250 == 0:
            _step(f"... {self.asked} requests, at {who} {method} {address}", self.began)
        client = self.clients[who]
        cookies = {name: each.value for name, each in client.cookies.items()}
        _bytes.begin(f"{method} {address}")
        headers = {"host": HOST, **(headers or {})}
        with transaction.atomic():
            response = getattr(client, method)(address, sent, headers=headers)
            answer = self._answer(response, address)
            if method == "post" and answer.get("to") and self._inside(answer["to"]):
                response = client.get(self._inside(answer["to"]), headers=headers)
                answer["then"] = self._answer(response, answer["to"])
                for untold in ("links", "pictures", "parts", "forms"):
                    answer["then"].pop(untold, None)
            transaction.set_rollback(True)
        client.cookies = SimpleCookie(cookies)
        if method == "post" and (cache := sys.modules.get("studio.kept")):
            cache.forget()  # the old code kept rows in the process, these ones were rolled back
        return answer

    def _answer(self, response, address):
        kind = response.headers.get("Content-Type", "").split(";")[0]
        body = b"".join(response.streaming_content) if response.streaming else response.content
        found = {"status": response.status_code, "kind": kind, "route": _route(address)}
        if "Location" in response.headers:
            found["to"] = response.headers["Location"]
        if failed := getattr(response, "exc_info", None):
            found["failed"] = f"{failed[0].__name__}: {failed[1]}"
        if name := response.headers.get("Content-Disposition"):
            found["name"] = name
        if kind == "text/html":
            found |= read.page(body, address)
        elif kind == "application/pdf":
            found |= self._paper(body)
        elif kind.startswith("text/") or "json" in kind or "xml" in kind or "javascript" in kind:
            found["text"] = body.decode(errors="replace").splitlines()
        else:
            found["bytes"] = read.digest(body)
        return found

    def _paper(self, body):
        """A PDF; one that was stored is known by its bytes as well."""
        key = read.digest(body)
        if key not in self.papers:
            self.papers[key] = read.paper(body)
        return self.papers[key] | ({"bytes": key} if key in self.stored else {})

    def _led_to_by_no_link(self, who):
        """One address for each pattern that no link led to, filled with keys of rows."""
        for route, pattern in _patterns():
            if route in self.routes[who] or NOT_OPENED.match(f"/{route}"):
                continue
            answer, address = None, ""
            for address in _filled(route, pattern):
                answer = self._ask(who, "get", address)
                if answer["status"] != 404:
                    break
            if answer:
                yield address

    def post_forms(self):
        """Post each form that was met, emptied and as it comes, each button once; return how many."""
        done, self.alike = set(), Counter()
        for who, forms in self.to_post.items():
            for address, form in sorted(forms, key=lambda each: each[0]):
                for button in form["buttons"] or [None]:
                    for emptied in (True, False):
                        self._post(who, address, form, button, emptied, done)
        return len(done)

    def _post(self, who, page, form, button, emptied, done):
        to = self._inside((button and button["to"]) or form["action"])
        sent = read.sends(form, button, emptied=emptied)
        shown = sorted(
            (name, [read.UUID.sub("", each) for each in value]) for name, value in sent.items()
        )
        how = "emptied" if emptied else "as shown"
        pressed = f"{button['name']}={button['value']}" if button and button["name"] else ""
        if not to or NOT_POSTED.match(to) or (who, to, how, str(shown)) in done:
            return
        alike = who, _route(to), pressed.split("=", maxsplit=1)[0], how
        self.alike[alike] += 1
        if self.alike[alike] > MOST_POSTED:
            return
        done.add((who, to, how, str(shown)))
        key = f"{who} POST {to} {pressed} ({how}, from {page.split('/')[1] or 'today'})"
        number = 2
        while f"{key} {number}" in self.answers or (number == 2 and key in self.answers):
            number += 1
            key = f"{key.rsplit(' #', 1)[0]} #{number - 1}"
        answer = self._ask(who, "post", to, sent)
        answer.pop("parts", None)
        if answer.get("forms"):
            answer["forms"] = [read.without_fresh_keys(each) for each in answer["forms"]]
        self.answers[key] = answer


def _plain_first(address):
    return ("?" in address, address)


def _route(address):
    """The pattern that the address belongs to, as the resolver writes it."""
    from django.urls import Resolver404, resolve  # noqa: PLC0415

    try:
        return resolve(urlsplit(address).path).route
    except Resolver404:
        return "(none)"


def _patterns():
    """Every pattern of the site as its route and its converters by name."""
    from django.urls import URLResolver, get_resolver  # noqa: PLC0415

    def below(resolver, route, converters):
        for each in resolver.url_patterns:
            here, takes = route + str(each.pattern), converters | each.pattern.converters
            if isinstance(each, URLResolver):
                yield from below(each, here, takes)
            else:
                yield here, takes

    for route, takes in below(get_resolver(), "", {}):
        if not route.startswith("admin/"):
            yield route, takes


def _filled(route, converters):
    """The addresses of a pattern, with the first rows of every table in it: one of them may fit."""
    if not converters:
        yield f"/{route}"
        return
    for number in range(60):
        address = f"/{route}"
        for name, converter in converters.items():
            values = _values(name, type(converter).__name__)
            address = re.sub(rf"<(\w+:)?{name}>", str(values[number % len(values)]), address)
        yield address


def _values(name, converter, cache={}):  # noqa: B006 - asked for once in a run
    """Values for one part of an address: keys of rows, references, numbers, codes."""
    if (name, converter) not in cache:
        cache[name, converter] = _read_values(name, converter) or ["1"]
    return cache[name, converter]


def _read_values(name, converter):
    from django.apps import apps  # noqa: PLC0415

    if name == "year":
        return [WALKED.year]
    if name == "week":
        return [f"{WALKED:%G-W%V}"]
    wanted = {"IntConverter": "AutoField", "UUIDConverter": "UUIDField"}.get(converter, name)
    columns = []
    for model in [each for label in APPS for each in apps.get_app_config(label).get_models()]:
        for field in model._meta.concrete_fields:
            if field.name == wanted or field.get_internal_type().endswith(wanted):
                rows = model._base_manager.order_by("pk").values_list(field.name, flat=True)
                columns.append([each for each in rows[:3] if each])
    return sorted({str(each) for column in columns for each in column}, key=lambda x: (len(x), x))
