"""Events hold facts and what a person typed; until now they held sentences, which are read once here.

What cannot be read stays as it is, as the event's `why`.
"""

import re
from datetime import date

import django.db.models.deletion
from django.db import migrations, models

AT_ONCE = 1000
LIMBS = {
    "left_hand": "left hand",
    "right_hand": "right hand",
    "left_foot": "left foot",
    "right_foot": "right foot",
}
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
OUTCOMES = {"to take": "planned", "taken": "taken", "take again": "repeat", "not today": "not_today"}
SPOILS = {
    "bubble": "bubble",
    "broken": "break",
    "smudged print": "smudge",
    "soft or crumbling": "soft",
    "something else": "other",
}
WAYS = {"Collected by the family.": "collected", "Delivered to the family.": "delivered"}
STEPS = ("mounted", "closed", "backed", "sealed", "checked")

DAY = r"[0-9]{1,2} [A-Z][a-z]{2} [0-9]{4}|[0-9]{2}\.[0-9]{2}\.[0-9]{4}"
PROMISE = re.compile(rf"(?:({DAY}) → )?({DAY}): (.*)", re.DOTALL)
LOGGED = re.compile(
    r"(to take|taken|take again|not today)(?:, tray ([^,]*))?(?:, fingers (not )?(flat))?"
    r"(?:, (not )?(all toes))?(?:, depth (un)?(even))?(?:, ([0-9]+) mm)?(?:, (.*))?",
    re.DOTALL,
)
WEIGHED = re.compile(r"([0-9.]+) g(?:, (.*))?", re.DOTALL)
STRUCK = re.compile(r"([0-9.]+) g\. (.*)", re.DOTALL)
SPOILED = re.compile(rf"({'|'.join(SPOILS)})\. (.*)", re.DOTALL)
MEASURED = re.compile(r"([0-9]+) × ([0-9]+) × ([0-9]+) mm")
RAILS = re.compile(r"(.*), rails of ([0-9]+) and ([0-9]+) mm")
CREDITED = re.compile(r"([^ ]+-[0-9]+): (.*)", re.DOTALL)


def iso(text):
    """A day in either of the two forms in which sentences held it."""
    if "." in text:
        day, month, year = map(int, text.split("."))
    else:
        day, name, year = text.split(" ")
        day, month, year = int(day), MONTHS.index(name) + 1, int(year)
    return date(year, month, day).isoformat()


def promise(rest):
    if not (found := PROMISE.fullmatch(rest)):
        return None
    try:
        before = iso(found[1]) if found[1] else ""
        return {"before": before, "day": iso(found[2])}, found[3].strip()
    except ValueError:
        return None


def logged(rest):
    if not (found := LOGGED.fullmatch(rest)):
        return None
    outcome, tray, flat_not, flat, toes_not, toes, depth_not, depth, length, note = found.groups()
    facts = {
        "outcome": OUTCOMES[outcome],
        "tray": tray or "",
        "flat": None if not flat else not flat_not,
        "toes": None if not toes else not toes_not,
        "depth": None if not depth else not depth_not,
        "length_mm": int(length) if length else None,
    }
    return facts, note or ""


def spoiled(name):
    def read(rest):
        found = SPOILED.fullmatch(rest)
        return ({name: SPOILS[found[1]]}, found[2]) if found else None

    return read


def moved(rest):
    return ({"reason": WAYS[rest]}, "") if rest in WAYS else spoiled("reason")(rest)


def weighed(form):
    def read(rest):
        found = form.fullmatch(rest)
        return ({"mass_g": float(found[1])}, found[2] or "") if found else None

    return read


def measured(rest):
    found = MEASURED.fullmatch(rest)
    names = ("length_mm", "width_mm", "depth_mm")
    return (dict(zip(names, map(int, found.groups()), strict=True)), "") if found else None


def placed(rest):
    found = re.fullmatch(r"place ([0-9]+)", rest)
    return ({"place": int(found[1])}, "") if found else None


def arrived(rest):
    who, _, asked = rest.partition("; gone through: ")
    return {"who": who, "asked": asked.split(", ") if asked else []}, ""


def erased(rest):
    found = re.fullmatch(r"([0-9]+) photographs?", rest)
    return ({"photographs": int(found[1])}, "") if found else None


def ticked(rest):
    step = rest.removeprefix("not ").removesuffix(" after all")
    return ({"step": step, "done": step == rest}, "") if step in STEPS else None


def way_home(rest):
    ways = {"goes home by courier": True, "is collected": False}
    return ({"courier": ways[rest]}, "") if rest in ways else None


def rails(rest):
    found = RAILS.fullmatch(rest)
    facts = found and {"moulding": found[1], "rails_mm": [int(found[2]), int(found[3])]}
    return (facts, "") if facts else None


def numbered(rest):
    return {"number": rest}, ""


def credited(rest):
    found = CREDITED.fullmatch(rest)
    return ({"number": found[1]}, found[2]) if found else None


def extra(rest):
    found = re.fullmatch(r"([0-9]+) × (.*)", rest, re.DOTALL)
    return ({"label": found[2], "quantity": int(found[1])}, "") if found else None


def labelled(rest):
    return {"label": rest, "quantity": None}, ""


def look(rest):
    return {"labels": [rest], "typed": []}, ""


def sized(rest):
    found = re.fullmatch(r"([0-9]+) mm|not known", rest)
    return ({"frame_mm": int(found[1]) if found[1] else None}, "") if found else None


def typed(rest):
    return {}, rest


# How the sentence of each kind is read; of OF_A_PIECE after the piece that it begins with.
OF_A_PIECE = {
    "add_photo": typed,
    "demould": typed,
    "leave_off_piece": typed,
    "log_impression": logged,
    "lose_impression": typed,
    "measure_mould": measured,
    "place_on_rack": placed,
    "release_dry": typed,
    "spoil_piece": spoiled("how"),
    "strike_weighing": weighed(STRUCK),
    "take_piece_back": typed,
    "weigh": weighed(WEIGHED),
}
OF_THE_JOB = {
    "add_delivery": labelled,
    "add_discount": labelled,
    "add_extra": extra,
    "add_reduction": labelled,
    "arrive": arrived,
    "choose_look": look,
    "confirm_cutting": rails,
    "credit_invoice": credited,
    "credit_part": credited,
    "drop_line": labelled,
    "erase_photos": erased,
    "give_receipt": numbered,
    "issue_invoice": numbered,
    "note_reminder": numbered,
    "pay_by_voucher": numbered,
    "promise": promise,
    "send_by_courier": way_home,
    "size_frame": sized,
    "tick_frame": ticked,
}


def read_event(what, why, pieces):
    """The subject, the facts and the reason in an event's old sentence; None where it has none.

    `pieces`: the numbers of the job's pieces by their names in sentences.
    """
    if what == "pour":
        poured = [pieces.get(name) for name in why.split("; ")]
        return None if None in poured else (None, {"pieces": poured}, "")
    if what in OF_THE_JOB:
        found = OF_THE_JOB[what](why)
        return found and (None, *found)
    name = next((name for name in pieces if why == name or why.startswith(f"{name}: ")), "")
    rest = why[len(name) :].removeprefix(": ")
    if what == "move":
        found = moved(rest)
    elif name:
        found = OF_A_PIECE[what](rest)
    else:
        found = None
    return found and (pieces.get(name), *found)


def read_sentences(apps, schema_editor):
    JobEvent, Piece = apps.get_model("studio", "JobEvent"), apps.get_model("studio", "Piece")
    whats = ("move", "pour", *OF_A_PIECE, *OF_THE_JOB)
    told = JobEvent.objects.filter(what__in=whats).exclude(why="").order_by("pk")
    last = 0
    while events := list(told.filter(pk__gt=last)[:AT_ONCE]):
        last = events[-1].pk
        names: dict[int, dict[str, int]] = {event.job_id: {} for event in events}
        for piece in Piece.objects.filter(job__in=names).select_related("child"):
            names[piece.job_id][f"{piece.child.first_name}, {LIMBS[piece.limb]}"] = piece.pk
        changed = []
        for event in events:
            if found := read_event(event.what, event.why, names[event.job_id]):
                event.subject_id, event.facts, event.why = found
                changed.append(event)
        JobEvent.objects.bulk_update(changed, ["subject", "facts", "why"], batch_size=200)


class Migration(migrations.Migration):
    dependencies = [("studio", "0009_who_tapped_it")]

    operations = [
        migrations.AddField(
            model_name="jobevent",
            name="facts",
            field=models.JSONField(
                blank=True, default=dict, help_text="By the kind's class in an event_words module."
            ),
        ),
        migrations.AddField(
            model_name="jobevent",
            name="subject",
            field=models.ForeignKey(
                blank=True,
                help_text="The piece that it is about; none: the whole job.",
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="events",
                to="studio.piece",
            ),
        ),
        migrations.AlterField(
            model_name="jobevent",
            name="why",
            field=models.TextField(blank=True, help_text="What a person typed, and nothing else."),
        ),
        migrations.RunPython(read_sentences, migrations.RunPython.noop),
    ]
