"""Fill an empty database with the invented unit, by the actions that people use."""

from collections.abc import Callable, Iterable
from datetime import date, datetime, timedelta
from decimal import Decimal
from heapq import heapify, heapreplace
from uuid import UUID, uuid5

from django.db import transaction

from bookings.consent import actions as consent_actions
from bookings.enquiries import actions as enquiries_actions
from demo_data import books, family_steps, files, frames, stores
from demo_data.bench import Bench
from demo_data.clock import Clock, Diary, most_pressing_first
from demo_data.lives import Life, Steps
from demo_data.setting import Setting
from orders.prices.actions import add_price, make_price_list, set_bands
from production.planning.plan_runs import make_plan
from production.schedule.models import PlanRun
from production.working_week import actions as working_week_actions
from production.working_week.models import WorkingWeek
from production.workshop import actions as workshop
from studio.accounts.actions import add_person, set_up_unit
from studio.accounts.models import Unit, User
from studio.families.actions import add_family
from studio.families.models import Family
from studio.roles import Role
from studio.stages import ActionRefused, Stage

PASSWORD = "oak-and-plaster"  # noqa: S105 - invented, and shown by `manage.py welcome`
NAMESPACE = UUID("0c6fd7d2-5f5c-4a2b-9a53-6a1d0f5b7a10")

Say = Callable[[str], None]


@transaction.atomic
def load(now: datetime, say: Say) -> Unit:
    """Load the demo as of `now`, in one transaction.

    Raises ActionRefused if a unit exists.
    """
    if Unit.objects.exists():
        raise ActionRefused("There is already a unit here: nothing was loaded.")
    unit, owner, helper = _people()
    say(f"{unit}, with the log-ins of its owner, a helper and the network office.")
    clock = Clock(now, unit.time_zone)
    _working_week(unit, owner, clock)
    _workshop(unit, owner, clock)
    frames.set_up(unit)
    _price_lists(unit, clock)
    say("The price lists of last year and this year.")
    rows = files.jobs()
    families = _families(unit, clock)
    say(f"{len(families)} families.")
    _enquiries(unit, families, clock)
    say(f"{unit.enquiries.count()} enquiries, {unit.enquiries.waiting().count()} of them waiting.")
    setting = _setting(unit, owner, helper, clock)
    _live(rows, families, setting)
    books.write(setting)
    frames.fill_rack(setting)
    frames.cut_begun(setting)
    frames.link_stores(setting)
    make_plan(unit, clock.now, how=PlanRun.How.QUICK)
    say("A plan of the bench, which the worker betters.")
    _say_what_came_of_it(unit, say)
    return unit


def _people() -> tuple[Unit, User, User]:
    facts = files.document("unit")
    owner = set_up_unit(
        email=facts["owner"]["email"],
        password=PASSWORD,
        owner_name=facts["owner"]["name"],
        unit_facts=facts["unit"],
    )
    unit = owner.unit
    helper = add_person(unit, **facts["helper"], password=PASSWORD, role=Role.HELPER)
    add_person(unit, **facts["office"], password=PASSWORD, role=Role.OFFICE)
    return unit, owner.user, helper.user


def _working_week(unit: Unit, owner: User, clock: Clock) -> None:
    facts = files.document("unit")
    usual = {
        field.name: getattr(WorkingWeek(unit=unit), field.name)
        for field in WorkingWeek._meta.fields
        if field.name not in ("id", "unit", "version")
    }
    working_week_actions.edit_working_week(
        unit, facts=usual | facts["working_week"], seen_version=1
    )
    for off in facts["days_off"]:
        monday = clock.day(7 * off["in_weeks"])
        monday -= timedelta(days=monday.weekday())
        working_week_actions.add_other_days(
            unit,
            first_on=monday,
            last_on=monday + timedelta(days=off["days"] - 1),
            why=off["why"],
            by=owner,
            at=clock.now - timedelta(days=30),
            key=uuid5(NAMESPACE, off["why"]),
        )


def _workshop(unit: Unit, owner: User, clock: Clock) -> None:
    """Set up plasters, scale and drying room, with some readings of the room."""
    facts = files.document("unit")
    for plaster in facts["plasters"]:
        workshop.add_plaster(unit, facts=plaster)
    workshop.edit_workshop(unit, facts=facts["workshop"], seen_version=1, at=clock.now)
    for read in facts["room_readings"]:
        at = min(clock.on(clock.day(-read["days_ago"]), "07:50"), clock.now)
        workshop.read_room(
            unit,
            temperature_c=read["temperature_c"],
            humidity_percent=read["humidity_percent"],
            by=owner,
            at=at,
            key=uuid5(NAMESPACE, f"room {read['days_ago']}"),
        )


def _price_lists(unit: Unit, clock: Clock) -> None:
    begins: dict[str, int] = files.document("unit")["price_lists"]
    for year, days in begins.items():
        price_list = make_price_list(unit, valid_from=clock.day(-days).replace(day=1))
        for row in files.table("prices"):
            price = add_price(
                price_list,
                facts={
                    "kind": row["kind"],
                    "label": row["label"],
                    "pieces": int(row["pieces"] or 0),
                    "one_child": bool(row["one_child"]),
                    "amount_minor": files.pence(row[year]),
                    "percent": Decimal(row["percent"]) if row["percent"] else None,
                    "given": row["given"],
                },
            )
            set_bands(price, bands=files.steps(row["steps"]))


def _families(unit: Unit, clock: Clock) -> dict[str, Family]:
    children: dict[str, list[dict[str, object]]] = {}
    for row in files.table("children"):
        born_on = clock.day(-int(row["days_old"]))
        due_on = born_on + timedelta(days=int(row["days_early"])) if row["days_early"] else None
        children.setdefault(row["family"], []).append(
            {"first_name": row["child"], "born_on": born_on, "due_on": due_on}
        )
    return {
        row["family"]: add_family(
            unit,
            facts={
                "name": row["family"],
                "contact_name": row["contact"],
                "phone": row["phone"],
                "email": row["email"],
                "address": f"{row['street']}\n{row['town']}",
                "postcode": row["postcode"],
                "note": row["note"],
            },
            children=children.get(row["family"], ()),
        )
        for row in files.table("families")
    }


def _enquiries(unit: Unit, families: dict[str, Family], clock: Clock) -> None:
    for row in files.table("enquiries"):
        asked_at = min(clock.on(clock.day(-int(row["days_ago"])), row["clock"]), clock.now)
        facts = {name: row[name] for name in ("name", "phone", "email", "postcode", "words")}
        enquiry = enquiries_actions.take_enquiry(
            unit,
            facts=facts | {"source": row["source"]},
            at=asked_at,
            key=uuid5(NAMESPACE, f"enquiry of {row['name']}"),
        )
        answered_at = clock.on(clock.local_day(asked_at) + timedelta(days=1), "20:05")
        if row["why"]:
            enquiries_actions.decline_enquiry(enquiry, why=row["why"], at=answered_at)
        elif row["answer"]:
            enquiries_actions.answer_with_family(
                enquiry, family=families[row["answer"]], at=answered_at
            )


def _setting(unit: Unit, owner: User, helper: User, clock: Clock) -> Setting:
    asked_on: dict[str, date] = {
        row["answer"]: clock.day(-int(row["days_ago"])) for row in files.table("enquiries")
    }
    consents = {
        row["family"]: tuple(purpose for purpose in ("keep", "show") if row[purpose])
        for row in files.table("families")
    }
    return Setting(
        unit=unit,
        owner=owner,
        helper=helper,
        clock=clock,
        diary=Diary(clock, files.document("unit")["diary"]["slots"]),
        bench=Bench(unit, owner, clock, NAMESPACE),
        courses=files.courses(),
        consents=consents,
        asked_on=asked_on,
        namespace=NAMESPACE,
    )


def _live(rows: Iterable[files.JobRow], families: dict[str, Family], setting: Setting) -> None:
    lives = [
        Life(setting, row, families[row.family]) for row in sorted(rows, key=most_pressing_first)
    ]
    all_steps = [life.way() for life in lives]
    all_steps += [steps(life) for life in lives for steps in family_steps.ALL]
    all_steps.append(_withdrawals(families, setting))
    all_steps.append(stores.stores(setting))
    run(all_steps, setting.clock.now)


def run(all_steps: Iterable[Steps], now: datetime) -> None:
    """Run all steps in the order of time until `now`."""
    waiting = [
        (wanted, number, steps)
        for number, steps in enumerate(all_steps)
        if (wanted := next(steps, None)) is not None
    ]
    heapify(waiting)
    while waiting and waiting[0][0] <= now:
        at, number, steps = waiting[0]
        try:
            # A step that asks for a time in the past goes on at once.
            heapreplace(waiting, (max(steps.send(at), at), number, steps))
        except StopIteration:
            waiting[0] = (datetime.max.replace(tzinfo=at.tzinfo), number, steps)
            heapify(waiting)


def _withdrawals(families: dict[str, Family], setting: Setting) -> Steps:
    """Two evenings ago some families withdrew a consent."""
    at = yield setting.clock.on(setting.clock.day(-2), "20:30")
    for row in files.table("families"):
        for consent in families[row["family"]].consents.in_force():
            if row.get(consent.purpose) == "withdrawn":
                consent_actions.withdraw_consent(
                    consent,
                    by=None,
                    at=at,
                    key=uuid5(NAMESPACE, f"{row['family']} withdraws {consent.purpose}"),
                )


def _say_what_came_of_it(unit: Unit, say: Say) -> None:
    for stage in Stage:
        say(f"{unit.jobs.at(stage).count():3} {stage.label.lower()}")
    say(f"{unit.materials.count()} materials, {unit.stock_moves.count()} lines in their ledgers.")
    say(f"{unit.photos.count()} photographs, drawn for the purpose.")
    say(f"{unit.invoices.count()} invoices and credit notes, {unit.payments.count()} payments.")
