"""Entries of the tablet for a sitting: arrival, consent, prints, finish and reopen."""

from datetime import datetime
from typing import Any, get_args
from uuid import UUID

from django.utils import timezone

from bookings import times
from bookings.consent import actions as consent_actions
from bookings.consent import wording
from bookings.consent.models import Consent
from bookings.sittings import actions, screens
from bookings.sittings.actions import PutOff
from bookings.sittings.models import MARKS, ClayPrint, Sitting
from bookings.tablet.pack import print_facts
from studio.accounts.models import Unit, User
from studio.families.models import Family
from studio.jobs.job_action import lock_job
from studio.stages import ActionRefused
from studio.tablet.entries import Answer, Entry, State, device_knows, entry_kind, is_superseded
from studio.tablet.parsing import Facts

MAX_NAME = 80

MAX_NOTE = ClayPrint._meta.get_field("note").max_length or 0

MAX_TRAY = ClayPrint._meta.get_field("tray").max_length or 0

MIN_LENGTH_MM, MAX_LENGTH_MM = 20, 400

MAX_TRIES = 50


def sitting_of(unit: Unit, entry: Entry) -> Sitting:
    """The sitting of an entry. Raises ActionRefused if the unit has no such sitting."""
    found = (
        unit.sittings.filter(pk=entry.sitting or 0).select_related("job__family", "unit").first()
    )
    if found is None:
        raise ActionRefused("This sitting is not in your diary.")
    return found


def _describe_arrival(unit: Unit, facts: dict[str, Any]) -> str:
    asked = [name for name, yes in (facts.get("questions") or {}).items() if yes]
    return ", ".join([facts["who"], *asked])


@entry_kind("arrive", words=_describe_arrival)
def arrive(unit: Unit, entry: Entry, *, by: User, at: datetime, key: UUID) -> Answer:
    """Record who is present at a sitting and which cautions were asked."""
    sitting, facts = sitting_of(unit, entry), Facts(entry.facts)
    questions = facts.answers("questions", screens.named_cautions())
    actions.arrive(
        sitting,
        who=facts.text("who", MAX_NAME, needed=True),
        asked=[name for name, asked in questions.items() if asked],
        by=by,
        at=at,
        key=key,
    )
    return Answer()


def _describe_consent(unit: Unit, facts: dict[str, Any]) -> str:
    answer = "yes" if facts["yes"] else "no"
    return f"{Consent.Purpose(facts['purpose']).label}: {answer}, {facts['given_by']}".rstrip(", ")


@entry_kind("consent", words=_describe_consent)
def consent(unit: Unit, entry: Entry, *, by: User, at: datetime, key: UUID) -> Answer:
    """Record or withdraw consent; an entry older than the family's own last change has no effect."""
    family, facts = sitting_of(unit, entry).job.family, Facts(entry.facts)
    purpose = facts.one_of("purpose", wording.WORDINGS)
    yes, given_by = facts.yes_or_no("yes"), facts.text("given_by", MAX_NAME)
    version = facts.text("wording_version", MAX_NAME)
    # Locked, so that a change by the family at this moment is seen.
    Family.objects.select_for_update(no_key=True).get(pk=family.pk)
    if later := _newer_consent_change(family, purpose, at):
        return Answer(sentence=later)
    in_force = family.consents.in_force().filter(purpose=purpose).first()
    if yes and not in_force:
        consent_actions.give_consent(
            family,
            purpose=purpose,
            given_by=given_by,
            wording_version=version,
            by=by,
            at=at,
            key=key,
        )
    elif in_force and not yes:
        consent_actions.withdraw_consent(in_force, by=by, at=at, key=key)
    return Answer()


def _newer_consent_change(family: Family, purpose: str, at: datetime) -> str:
    """A sentence if the family has given or withdrawn this consent after `at`, else ""."""
    consents = family.consents.filter(purpose=purpose)
    if consents.filter(withdrawn_at__gt=at).exists():
        return "The family has withdrawn this consent since then: it stays withdrawn."
    if consents.in_force().filter(given_at__gt=at).exists():
        return "The family has given this consent since then: it stays given."
    return ""


def _describe_print(unit: Unit, facts: dict[str, Any]) -> str:
    """Describe a print's facts: "taken, tried twice, tray 3, all toes, 74 mm, wriggled"."""
    tries = facts.get("tries") or 0
    marks = facts.get("marks") or {}
    words = [
        ClayPrint.Outcome(facts["outcome"]).label,
        _times(tries),
        f"tray {facts['tray']}" if facts.get("tray") else "",
        *(MARKS[name][not good] for name, good in marks.items() if good is not None),
        f"{facts['length_mm']} mm" if facts.get("length_mm") else "",
        facts.get("note") or "",
    ]
    return ", ".join(filter(None, words))


def _times(tries: int) -> str:
    return {0: "", 1: "tried once", 2: "tried twice"}.get(tries, f"tried {tries} times")


@entry_kind("impression", words=_describe_print, choosable=True)
def clay_print(unit: Unit, entry: Entry, *, by: User, at: datetime, key: UUID) -> Answer:
    """Store the facts of one print; a change by somebody else in the meantime makes it a conflict."""
    sitting, facts = sitting_of(unit, entry), _parse_print(entry)
    pk = Facts(entry.facts).whole("impression", 1, 2**31 - 1)
    lock_job(sitting.job)
    held = sitting.prints.filter(pk=pk).select_related("piece__child", "said_by").first()
    if held is None:
        raise ActionRefused("This limb is not part of the sitting.")
    subject, current = f"print {held.pk}", print_facts(held)
    if is_superseded(unit, entry, subject):
        return Answer(State.KEPT, "Your later entry counts.", subject, held.version)
    if all(current[name] == value for name, value in facts.items()):
        return Answer(State.KEPT, "", subject, held.version)
    if sitting.state == Sitting.State.PLANNED and not device_knows(
        unit, entry, subject, held.version
    ):
        sentence = f"{_who_said(held)} about {held.piece}: choose."
        return Answer(State.CONFLICT, sentence, subject, held.version, theirs=current)
    held = actions.log_print(held, **facts, by=by, at=at, key=key)
    return Answer(State.KEPT, "", subject, held.version, wrote=True)


def _parse_print(entry: Entry) -> dict[str, Any]:
    """Parse the arguments of `log_print`. Raises ActionRefused."""
    facts = Facts(entry.facts)
    return {
        "outcome": facts.one_of("outcome", ClayPrint.Outcome.values),
        "tries": facts.whole("tries", 0, MAX_TRIES),
        "marks": facts.answers("marks", MARKS),
        "length_mm": facts.whole_or_none("length_mm", MIN_LENGTH_MM, MAX_LENGTH_MM),
        "note": facts.text("note", MAX_NOTE),
        "tray": facts.text("tray", MAX_TRAY),
    }


def _who_said(held: ClayPrint) -> str:
    if held.said_by is None or held.said_at is None:
        return "Somebody said something else"
    when = times.to_local(held.said_at, held.sitting.unit.time_zone)
    return f"{held.said_by} said something else at {when:%H:%M}"


def _describe_finish(unit: Unit, facts: dict[str, Any]) -> str:
    split = "the rest gets a sitting of its own"
    return f"finished; {split if facts['put_off'] == 'split' else 'the rest is left off'}"


@entry_kind("finish", words=_describe_finish)
def finish(unit: Unit, entry: Entry, *, by: User, at: datetime, key: UUID) -> Answer:
    """Finish a sitting, unless it is finished already."""
    sitting = sitting_of(unit, entry)
    put_off = Facts(entry.facts).one_of("put_off", get_args(PutOff))
    lock_job(sitting.job)
    sitting.refresh_from_db()
    if sitting.state == Sitting.State.DONE:
        return Answer(sentence=_who_finished(sitting))
    actions.finish_sitting(sitting, put_off=put_off, by=by, at=at, key=key)  # type: ignore[arg-type]
    return Answer()


@entry_kind("reopen")
def reopen(unit: Unit, entry: Entry, *, by: User, at: datetime, key: UUID) -> Answer:
    """Reopen a finished sitting, unless it is open already."""
    sitting = sitting_of(unit, entry)
    if sitting.state == Sitting.State.PLANNED:
        return Answer(sentence="The sitting is open.")
    actions.reopen_sitting(sitting, by=by, at=at, key=key)
    return Answer()


def _who_finished(sitting: Sitting) -> str:
    ended = sitting.job.events.filter(what="finish_sitting").newest_first().first()
    if ended is None:
        return "The sitting is finished already."
    return f"{ended.by} finished the sitting already, at {timezone.localtime(ended.at):%H:%M}."
