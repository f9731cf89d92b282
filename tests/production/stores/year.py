"""An invented year of a studio, and two ways of buying for it: ours and a fixed rule.

Everything is drawn by a seeded generator: how many sit on a day, how many pieces each has, when it
was booked, what is called off, what each piece really takes, when the van really comes. Half a year
before the year gives both ways the same past to learn from.
"""

import math
import random
from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, timedelta

from production.stores import reorder

BEGINS = date(2026, 1, 5)
WARM, YEAR = 182, 364
SUNDAY = 6
BOOKED_AHEAD = (5, 28)
# The stores take nine bookings in ten for all: one in ten comes later than these.
BOOKED_LATE_SHARE = 0.1


@dataclass(frozen=True)
class Stuff:
    """A material: what one event takes (of a piece or of a job), how many days after the sitting."""

    name: str
    after: int
    per_piece: float
    per_job: float
    spread: float
    pack: int
    pack_minor: int
    lead: int
    keep_days: int | None = None


SHELF = (
    Stuff("plaster", 1, 269, 0, 0.20, 25_000, 2199, 4, 180),
    Stuff("clay lost", 1, 45, 0, 0.40, 10_000, 1500, 5),
    Stuff("oak moulding", 9, 150, 1000, 0.15, 9_000, 5400, 10),
    Stuff("glass", 9, 20_000, 50_000, 0.20, 750_000, 1250, 7),
    Stuff("backing board", 9, 20_000, 50_000, 0.20, 2_976_800, 2400, 7),
    Stuff("hangers", 9, 0, 2, 0.0, 50, 900, 3),
    Stuff("wax", 10, 0, 12, 0.30, 400, 1400, 5),
    Stuff("cartons", 14, 0, 1, 0.0, 20, 2600, 6),
)


@dataclass
class World:
    """What really goes on each day, and what of it was known beforehand, for each material."""

    taken: dict[str, list[int]]
    known: dict[str, dict[int, list[tuple[int, float]]]]
    """By the day on which it became known: the day of the use, and what it will take (or no longer)."""
    lates: list[int] = field(default_factory=list)


def season(day):
    """A quiet January, a full autumn, as many in the middle as not."""
    week = (BEGINS + timedelta(days=day)).isocalendar().week
    return 1 + 0.35 * math.sin((week - 20) / 52 * 2 * math.pi) + (0.6 if 42 <= week <= 48 else 0)


def world(seed, *, a_day=0.9):
    draw = random.Random(seed)  # noqa: S311 - an invented year, the same each time
    taken = {each.name: [0] * (WARM + YEAR + 60) for each in SHELF}
    known = {each.name: defaultdict(list) for each in SHELF}
    for day in range(WARM + YEAR):
        if (BEGINS + timedelta(days=day)).weekday() == SUNDAY:
            continue
        for _ in range(_poisson(draw, a_day * season(day))):
            _sitting(draw, day, taken, known)
    return World(taken, known, [draw.choice((0, 0, 0, 1, 2)) for _ in range(4000)])


def _sitting(draw, day, taken, known):
    pieces = draw.choices((1, 2, 4), (20, 55, 25))[0]
    late = draw.random() < BOOKED_LATE_SHARE
    booked = day - (draw.randint(0, BOOKED_AHEAD[0] - 1) if late else draw.randint(*BOOKED_AHEAD))
    off = day - draw.randint(0, 4) if draw.random() < 0.06 else None
    for each in SHELF:
        on = day + each.after
        likely = each.per_piece * pieces + each.per_job
        known[each.name][booked].append((on, likely))
        if off is not None:
            known[each.name][off].append((on, -likely))
            continue
        really = max(likely * draw.gauss(1, each.spread), 0)
        if each.name == "plaster" and draw.random() < 0.08:
            taken[each.name][on + 1] += round(each.per_piece)  # a bubble: poured again
        taken[each.name][on] += round(really)


def _poisson(draw, mean):
    limit, number, product = math.exp(-mean), 0, draw.random()
    while product > limit:
        number += 1
        product *= draw.random()
    return number


@dataclass
class Outcome:
    """How a year went for one material."""

    deliveries: int = 0
    short_deliveries: int = 0
    short_days: int = 0
    tied_up_minor: float = 0.0


def run(of, made, decide):
    """The year with a way of buying: `decide(day, stock, coming)` gives packs to order, 0 for none."""
    stock, coming = 2 * of.pack, {}
    gone, went_short = Outcome(), {}
    lates = iter(made.lates)
    for day in range(WARM, WARM + YEAR):
        for on in [on for on in coming if on <= day]:
            stock += coming.pop(on)
            gone.deliveries += 1
            gone.short_deliveries += went_short.pop(on)
        if (BEGINS + timedelta(days=day)).weekday() < 5 and (
            packs := decide(day, stock, dict(coming))
        ):
            arrives = day + of.lead + next(lates)
            while arrives in coming:
                arrives += 1
            coming[arrives], went_short[arrives] = packs * of.pack, False
        stock -= made.taken[of.name][day]
        if stock < 0:
            gone.short_days += 1
            went_short = dict.fromkeys(went_short, True)
        gone.tied_up_minor += max(stock, 0) * of.pack_minor / of.pack / YEAR
    return gone


def ours(of, made, *, service_percent=98, cover_days=28):
    """As the stores do it: the plan as it is known on the day, the use of the half year before."""
    buying_lead = reorder.lead_time(of.lead, [of.lead + late for late in made.lates[-8:]])
    known_days = BOOKED_AHEAD[0] + of.after
    buying = reorder.PurchaseTerms(
        of.pack, *buying_lead, service_percent, cover_days, of.keep_days, known_days
    )
    plan, news = defaultdict(float), sorted(made.known[of.name].items())

    def decide(day, stock, coming):
        while news and news[0][0] <= day:
            for on, likely in news.pop(0)[1]:
                plan[on] += likely
        weekly = [sum(made.taken[of.name][end - 7 : end]) for end in range(day - 175, day + 1, 7)]
        used = reorder.usage_statistics(weekly)
        ahead = {on - day: likely for on, likely in plan.items() if 0 <= on - day < 182}
        today = BEGINS + timedelta(days=day)
        closed = frozenset(
            today + timedelta(days=n)
            for n in range(60)
            if (today + timedelta(days=n)).weekday() >= 5
        )
        found = reorder.outlook(
            today,
            stock,
            {max(on - day, 1): quantity for on, quantity in coming.items()},
            reorder.daily_needs(ahead, used.per_day, known_days),
            used,
            buying,
            closed,
        )
        return found.packs if found.order_by == today else 0

    return decide


def per_day_before(of, made):
    return sum(made.taken[of.name][:WARM]) / WARM


def fixed(of, made, *, point, per_day, cover_days=28):
    """The fixed rule: at or below `point` on the shelf and on its way, order the same packs again."""
    packs = max(math.ceil(per_day * cover_days / of.pack), 1)

    def decide(day, stock, coming):
        return packs if stock + sum(coming.values()) <= point else 0

    return decide


def month_in_hand(of, made):
    """The fixed rule as it is stated: until the delivery and thirty days more."""
    per_day = per_day_before(of, made)
    return fixed(of, made, point=per_day * (of.lead + 30), per_day=per_day)


def best_rule(of, made, short_days):
    """With hindsight: the year's own mean, and the lowest point that is short on no more days."""
    per_day = sum(made.taken[of.name][WARM : WARM + YEAR]) / YEAR
    low, high = 0.0, per_day * 120 + of.pack
    for _ in range(24):
        middle = (low + high) / 2
        rule = fixed(of, made, point=middle, per_day=per_day)
        if run(of, made, rule).short_days <= short_days:
            high = middle
        else:
            low = middle
    return fixed(of, made, point=high, per_day=per_day)
