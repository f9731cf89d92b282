"""Private links to the family page: make, open, revoke and throttle them.

An address is the permission (W3C TAG, Good Practices for Capability URLs; OWASP ASVS 5.0.0), so its
token is random, stored only as a digest, expires, and can be revoked.
"""

import hashlib
import ipaddress
import secrets
from datetime import datetime, timedelta
from uuid import UUID, uuid4

from django.db import transaction
from django.db.models import F
from django.utils import timezone
from django.utils.crypto import salted_hmac

from orders.event_words import LinkMade
from orders.family_page.models import FamilyLink, LinkMiss
from studio.accounts.models import User
from studio.jobs.job_action import JobAction, itself, job_action, lock_job, record
from studio.jobs.models import Job
from studio.stages import ActionRefused

TOKEN_BYTES = 32

USUAL_DAYS = 120

MOST_DAYS = 366

MISSES_A_MINUTE = 20

KEEP_MISSES = timedelta(hours=1)

# The usual IPv6 network of one household or attacker.
_IPV6_NETWORK_BITS = 64


class LinkUnknown(Exception):
    """The link is mistyped, expired, revoked or never existed; on purpose nothing tells which."""


class TooManyMisses(Exception):
    """Too many failed attempts from this network; valid links are refused as well."""


@transaction.atomic
def make_link(
    job: Job, *, days: int = USUAL_DAYS, by: User, at: datetime
) -> tuple[FamilyLink, str]:
    """Return a new link that opens for `days`, and its token, which cannot be read again.

    A repeated submission makes a second link, because the first token is not stored. Raises
    ActionRefused for days outside 1 to 366.
    """
    locked = lock_job(job)
    if not 1 <= days <= MOST_DAYS:
        raise ActionRefused(f"A link opens for 1 to {MOST_DAYS} days.")
    token = secrets.token_urlsafe(TOKEN_BYTES)
    link = FamilyLink.objects.create(
        job=locked,
        token_sha256=digest(token),
        made_at=at,
        made_by=by,
        expires_at=at + timedelta(days=days),
    )
    facts = LinkMade(timezone.localdate(link.expires_at).isoformat())
    record(locked, what="make_link", facts=facts, by=by, at=at, key=uuid4())
    return link, token


@job_action(itself)
def revoke_link(
    act: JobAction, link: FamilyLink, *, by: User, at: datetime, key: UUID
) -> FamilyLink:
    """Make the link invalid from now on. Raises ActionRefused if it was revoked before."""
    link.refresh_from_db()
    if link.revoked_at:
        raise ActionRefused("This link was revoked already: it opens nothing.")
    link.revoked_at = at
    link.save(update_fields=["revoked_at"])
    act.record()
    return link


def open_link(
    token: str, *, came_from: str, at: datetime, public_id: UUID | None = None
) -> FamilyLink:
    """Return the link of a token, with its job, family and unit. Two queries if it is valid.

    `came_from` is the visitor's network address, `public_id` the link that the token must belong
    to. Raises LinkUnknown, which counts a miss, or TooManyMisses, also for valid tokens, so that
    guessing learns nothing.
    """
    visitor, minute = _visitor(came_from), at.replace(second=0, microsecond=0)
    missed = LinkMiss.objects.filter(
        came_from=visitor, minute=minute, tries__gte=MISSES_A_MINUTE
    ).exists()
    if missed:
        raise TooManyMisses
    found = FamilyLink.objects.open_at(at).filter(token_sha256=digest(token))
    if public_id:
        found = found.filter(public_id=public_id)
    try:
        return found.select_related("job__family", "job__unit").get()
    except FamilyLink.DoesNotExist:
        _count_miss(visitor, minute)
        raise LinkUnknown from None


def digest(token: str) -> str:
    """Return the SHA-256 of a token. No salt: 256 random bits cannot be guessed from their digest."""
    return hashlib.sha256(token.encode()).hexdigest()


def _count_miss(visitor: str, minute: datetime) -> None:
    miss, new = LinkMiss.objects.get_or_create(came_from=visitor, minute=minute)
    LinkMiss.objects.filter(pk=miss.pk).update(tries=F("tries") + 1)
    if new:
        LinkMiss.objects.filter(minute__lt=minute - KEEP_MISSES).delete()


def _visitor(came_from: str) -> str:
    """Return a keyed digest of the network address: enough to count by, useless to identify a
    person.
    """
    try:
        address = ipaddress.ip_address(came_from)
    except ValueError:
        network = "unknown"
    else:
        address = getattr(address, "ipv4_mapped", None) or address
        bits = _IPV6_NETWORK_BITS if address.version == 6 else address.max_prefixlen  # noqa: PLR2004
        network = str(ipaddress.ip_network((address, bits), strict=False))
    return salted_hmac("orders.links", network, algorithm="sha256").hexdigest()
