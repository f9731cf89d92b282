import os
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand
from django.urls import reverse
from django.utils import timezone

from demo_data import files, loading
from orders.family_page.models import FamilyLink
from orders.family_page.private_links import digest, make_link
from production.casts.models import Cast
from studio.accounts.models import Unit, User
from studio.jobs.models import Job
from studio.roles import Role
from studio.stages import Stage

_ROLES = {"owner": "the owner", "helper": "a helper", "office": "the network office"}
_INTO_THE_FILE = os.O_WRONLY | os.O_CREAT | os.O_TRUNC


class Command(BaseCommand):
    help = "Says where Caststead answers, and how to look around in the demo if it is loaded."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, *_args: Any, port: int, **_options: Any) -> None:
        address = f"http://127.0.0.1:{port}"
        lines = ["", f"Caststead is at {address}/", ""]
        if people := _demo_people():
            lines += [*_log_ins(people), *_parents_page(address), *_without_the_demo()]
        elif not Unit.objects.exists():
            lines += ["It is empty: the first page asks for your name and your studio.", ""]
        self.stdout.write("\n".join([*lines, "Stop it with Ctrl-C."]))


def _demo_people() -> list[tuple[User, str]]:
    """The demo's people and what they do, where they still have the demo's password."""
    facts = files.document("unit")
    found = [
        (user, words)
        for who, words in _ROLES.items()
        if (user := User.objects.filter(email=facts[who]["email"]).first())
    ]
    return [each for each in found if each[0].check_password(loading.PASSWORD)]


def _log_ins(people: list[tuple[User, str]]) -> list[str]:
    return [
        "An invented studio is loaded to look around in. Log in as",
        *(f"  {user.email:20} {words}, {user.name}" for user, words in people),
        f"with the password {loading.PASSWORD}",
        "",
    ]


def _parents_page(address: str) -> list[str]:
    token = _kept_token() or _new_token()
    if not token:
        return []
    path = reverse("family_page:arrive", args=[token])
    return ["What a family sees of its job, on a phone:", f"  {address}{path}", ""]


def _kept() -> Path:
    """Beside the photographs, where no web server reaches: the database keeps only its digest."""
    return Path(settings.MEDIA_ROOT) / "demo_link"


def _kept_token() -> str:
    """The token that an earlier start printed, while it opens."""
    token = _kept().read_text(encoding="ascii") if _kept().is_file() else ""
    opens = FamilyLink.objects.open_at(timezone.now()).filter(token_sha256=digest(token))
    return token if token and opens.exists() else ""


def _new_token() -> str:
    if (job := _drying_job()) is None:
        return ""
    owner = User.objects.filter(memberships__unit=job.unit, memberships__role=Role.OWNER).first()
    if owner is None:
        return ""
    _, token = make_link(job, by=owner, at=timezone.now())
    _kept().parent.mkdir(parents=True, exist_ok=True)
    with os.fdopen(os.open(_kept(), _INTO_THE_FILE, 0o600), "w", encoding="ascii") as file:
        file.write(token)
    return token


def _drying_job() -> Job | None:
    """The soonest promised that is not late, rather one that is damp and has photographs to see; of a demo
    that is weeks old, one that is late.
    """
    drying = Job.objects.at(Stage.DRYING).soonest_first().select_related("unit")
    in_time = drying.filter(promised_on__gte=timezone.localdate())
    damp = Cast.objects.damp().values("piece__job")
    seen = in_time.filter(pk__in=damp, photos__isnull=False)
    return seen.first() or in_time.first() or drying.first()


def _without_the_demo() -> list[str]:
    own = ["To begin with your own studio instead, stop this and start it anew with"]
    database = Path(str(settings.DATABASES["default"]["NAME"]))
    if settings.VAR_DIR not in database.parents:
        return [*own, "  CASTSTEAD_DEMO=no and an empty database in DATABASE_URL", ""]
    return [
        *own,
        "  mv var var-demo && CASTSTEAD_DEMO=no bin/start",
        "The invented studio is then kept in var-demo.",
        "",
    ]
