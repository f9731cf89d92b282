"""Stock status of the materials: stock, use, forecast and what to order."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from math import floor

from django.db.models import OuterRef, Subquery
from django.utils import timezone

from production.stock import valuation
from production.stock.models import Lot, Material, Purchase, StockMove
from production.stores import needs, reorder
from production.stores.work_to_come import work_to_come
from studio.accounts.models import Unit

LOOK_BACK_WEEKS = 26

_ENOUGH_SITTINGS = 20

_DELIVERIES_KEPT = 8

_SATURDAY = 5

What = StockMove.What

_DAYS = reorder.HORIZON_DAYS


@dataclass(frozen=True, slots=True)
class StockStatus:
    """Status of one material today: stock in base units, use, forecast, purchases and lots.

    `levels`: forecast stock in the evening of each day.
    """

    material: Material
    stock: int
    tied_up_minor: int
    used: reorder.Usage
    outlook: reorder.Outlook
    levels: tuple[float, ...]
    coming: tuple[Purchase, ...]
    lots: tuple[Lot, ...]
    counted_on: date | None
    is_uncounted: bool
    """The bench used more than the books held, and nobody counted since."""
    price: tuple[int, int] | None
    """Quantity and cost of the newest lot."""
    is_cut: bool
    """Cuttings take of it as they are drawn."""
    today: date

    @property
    def stock_words(self) -> str:
        return self.material.say(self.stock)

    @property
    def cover_words(self) -> str:
        """How long it lasts: "19 days", "over 6 months"."""
        if not self.used.per_day and self.outlook.cover_days is None:
            return "nothing planned takes of it"
        days = self.outlook.cover_days
        if days is None:
            return "over 6 months"
        return "none left for today" if days == 0 else f"{days} day{'' if days == 1 else 's'}"

    @property
    def order_words(self) -> str:
        """What to order: "2 sacks, 50.00 kg"."""
        return self.material.packs_label(self.outlook.packs)

    @property
    def week_words(self) -> str:
        return self.material.say(round(self.used.per_day * reorder.DAYS_PER_WEEK))

    @property
    def is_young(self) -> bool:
        """Whether there are too few weeks of use to know their spread."""
        return self.used.weeks < reorder.MIN_WEEKS

    def likely_cost_minor(self, quantity: int) -> int:
        """Cost of a quantity at the price of the newest lot in minor units; 0 without one."""
        return valuation.value_at_lot_price(quantity, *self.price) if self.price else 0

    @property
    def order_cost_minor(self) -> int:
        return self.likely_cost_minor(self.outlook.quantity)

    @property
    def is_to_order(self) -> bool:
        """Whether it must be ordered within seven days."""
        order_by = self.outlook.order_by
        return order_by is not None and order_by <= self.today + timedelta(days=7)

    @property
    def past_best(self) -> list[Lot]:
        return [lot for lot in self.lots if lot.best_before and lot.best_before < self.today]

    @property
    def overdue(self) -> list[Purchase]:
        return [each for each in self.coming if each.expected_on < self.today]


def stock_statuses(unit: Unit, now: datetime) -> list[StockStatus]:
    """Return the status of every material in use, by kind and name.

    One query without any, else about twenty, more if cuttings use any of them.
    """
    return stock_statuses_on(unit, timezone.localdate(now))


def stock_statuses_on(unit: Unit, today: date) -> list[StockStatus]:
    """Return the same as `stock_statuses` for a day."""
    materials = list(unit.materials.kept().with_stock().select_related("plaster"))
    if not materials:
        return []
    order = Material.Kind.values
    return sorted(
        _statuses(unit, materials, today),
        key=lambda each: (order.index(each.material.kind), each.material.name.lower()),
    )


def stock_status_of(material: Material, now: datetime) -> StockStatus:
    """Return the status of one material that was read `with_stock`, retired or not."""
    return _statuses(material.unit, [material], timezone.localdate(now))[0]


def to_order(statuses: Iterable[StockStatus]) -> list[StockStatus]:
    """Return the statuses with an order day, the soonest first."""
    wanted = [each for each in statuses if each.outlook.order_by]
    return sorted(wanted, key=lambda each: (each.outlook.order_by or date.max, each.material.name))


def _statuses(unit: Unit, materials: Sequence[Material], today: date) -> list[StockStatus]:
    now = _end_of(today)
    pks = [material.pk for material in materials]
    past = _past(unit, pks)
    weekly = _weekly(unit, {pk: each.first_on for pk, each in past.items()}, now)
    ahead = work_to_come(unit, materials, now)
    ahead_days = booked_ahead_days(unit, now)
    deliveries, coming, lots = _deliveries(pks), _coming(pks), _lots(pks)
    usual = next((m.plaster_id for m in materials if m.plaster and m.plaster.usual), None)
    closed = ahead.days_off | _weekends(today)
    found = []
    for each in materials:
        consumption = _consumption(each, usual, is_cut=each.pk in ahead.cut)
        used = reorder.usage_statistics(weekly[each.pk])
        buying = _buying(each, deliveries[each.pk], ahead_days, consumption.moment)
        planned = needs.planned_needs(ahead.work, consumption)
        needed = reorder.daily_needs(planned, used.per_day, buying.known_days)
        on_its_way = _by_day(coming[each.pk], today)
        stock: int = each.stock  # type: ignore[attr-defined]  # of `with_stock`
        found.append(
            StockStatus(
                material=each,
                stock=stock,
                tied_up_minor=each.tied_up_minor,  # type: ignore[attr-defined]
                used=used,
                outlook=reorder.outlook(today, stock, on_its_way, needed, used, buying, closed),
                levels=tuple(reorder.projected_stock(stock, on_its_way, needed)),
                coming=tuple(coming[each.pk]),
                lots=tuple(lots[each.pk]),
                counted_on=past[each.pk].counted_on,
                is_uncounted=past[each.pk].is_uncounted,
                price=past[each.pk].price,
                is_cut=each.pk in ahead.cut,
                today=today,
            )
        )
    return found


def _end_of(today: date) -> datetime:
    """Return the last moment of a local day, with which the weeks of use end."""
    midnight = datetime.combine(today + timedelta(days=1), time.min)
    return timezone.make_aware(midnight) - timedelta(microseconds=1)


def booked_ahead_days(unit: Unit, now: datetime) -> int:
    """Return how many days ahead 90 % of sittings are booked; 0 with too few sittings. One query."""
    lately = unit.sittings.filter(
        state="done", starts_at__gte=now - timedelta(weeks=LOOK_BACK_WEEKS), starts_at__lt=now
    )
    ahead = sorted(
        max(floor((starts_at - opened_at) / timedelta(days=1)), 0)
        for starts_at, opened_at in lately.values_list("starts_at", "job__opened_at")
    )
    return ahead[len(ahead) // 10] if len(ahead) >= _ENOUGH_SITTINGS else 0


def _weekends(today: date) -> frozenset[date]:
    """Return the weekend days of the horizon, on which nobody orders."""
    days = (today + timedelta(days=number) for number in range(_DAYS))
    return frozenset(day for day in days if day.weekday() >= _SATURDAY)


def _consumption(material: Material, usual: int | None, *, is_cut: bool) -> needs.Consumption:
    """Return how a material is used up: plaster only if it is the usual one, cut materials frame by frame."""
    if is_cut:
        return needs.Consumption("cut", number=material.pk)
    moment = material.used_at
    if moment == Material.UsedAt.POUR and material.plaster_id != usual:
        moment = Material.UsedAt.HAND
    return needs.Consumption(moment, material.used_each, material.returns_percent)


def _buying(
    material: Material, deliveries: Sequence[int], ahead_days: int, moment: str
) -> reorder.PurchaseTerms:
    lead_days, lead_sd_days = reorder.lead_time(material.lead_days, deliveries)
    return reorder.PurchaseTerms(
        pack=material.pack,
        lead_days=lead_days,
        lead_sd_days=lead_sd_days,
        service_percent=material.service_percent,
        cover_days=material.cover_days,
        keep_days=material.keep_days if not material.returns_percent else None,
        known_days=ahead_days + _days_after_sitting(material.unit, moment) if ahead_days else 0,
    )


def _days_after_sitting(unit: Unit, moment: str) -> int:
    if moment in (Material.UsedAt.FRAME, Material.UsedAt.GLAZED, "cut"):
        return unit.drying_days
    return unit.promise_days if moment == Material.UsedAt.HOME else 0


@dataclass(frozen=True, slots=True)
class _Past:
    """The first lot of a material, its last count, its last use beyond the books, and its newest price."""

    first_on: date | None
    counted_at: datetime | None
    beyond_at: datetime | None
    price: tuple[int, int] | None

    @property
    def counted_on(self) -> date | None:
        return timezone.localdate(self.counted_at) if self.counted_at else None

    @property
    def is_uncounted(self) -> bool:
        """Whether more was used than the books held, and nobody counted since."""
        if self.beyond_at is None:
            return False
        return self.counted_at is None or self.counted_at < self.beyond_at


def _past(unit: Unit, pks: Sequence[int]) -> Mapping[int, _Past]:
    """Return the past of each of these materials. One query."""
    lots = Lot.objects.filter(material=OuterRef("pk"))
    bought = lots.filter(cost_minor__gt=0).order_by("-received_on", "-pk")
    moves = unit.stock_moves.filter(lot__material=OuterRef("pk")).order_by("-at").values("at")
    rows = unit.materials.filter(pk__in=pks).values_list(
        "pk",
        Subquery(lots.order_by("received_on").values("received_on")[:1]),
        Subquery(moves.filter(what=What.COUNTED)[:1]),
        Subquery(moves.filter(what=What.FOUND)[:1]),
        Subquery(bought.values("quantity")[:1]),
        Subquery(bought.values("cost_minor")[:1]),
    )
    return {
        pk: _Past(first_on, counted_at, beyond_at, (quantity, cost_minor) if quantity else None)
        for pk, first_on, counted_at, beyond_at, quantity, cost_minor in rows
    }


def _weekly(
    unit: Unit, begun: Mapping[int, date | None], now: datetime
) -> Mapping[int, list[float]]:
    """Return the use of each material in each week until now in base units, oldest first. One query.

    Weeks start with its first lot (`begun`), so that a new material does not seem unused.
    """
    since = now - timedelta(weeks=LOOK_BACK_WEEKS)
    weeks: defaultdict[int, list[float]] = defaultdict(list)
    for pk, first_on in begun.items():
        if first_on:
            lived = (timezone.localdate(now) - first_on).days // 7 + 1
            weeks[pk] = [0.0] * min(max(lived, 1), LOOK_BACK_WEEKS)
    used = unit.stock_moves.used_or_returned().filter(
        lot__material__in=list(begun), at__gt=since, at__lte=now
    )
    for pk, at, quantity in used.order_by().values_list("lot__material", "at", "quantity"):
        back = (now - at) // timedelta(weeks=1)
        if back < len(weeks[pk]):
            weeks[pk][-1 - back] -= quantity
    return weeks


def _deliveries(pks: Sequence[int]) -> Mapping[int, list[int]]:
    """Return the days from order to delivery of the last eight deliveries of each material."""
    came: defaultdict[int, list[int]] = defaultdict(list)
    lots = Lot.objects.filter(material__in=pks, purchase__isnull=False).order_by("-received_on")
    for pk, received_on, ordered_on in lots.values_list(
        "material", "received_on", "purchase__ordered_on"
    )[:400]:
        if len(came[pk]) < _DELIVERIES_KEPT:
            came[pk].append((received_on - ordered_on).days)
    return came


def _coming(pks: Sequence[int]) -> Mapping[int, list[Purchase]]:
    found: defaultdict[int, list[Purchase]] = defaultdict(list)
    on_their_way = Purchase.objects.on_their_way().filter(material__in=pks)
    for purchase in on_their_way.select_related("material"):
        found[purchase.material_id].append(purchase)
    return found


def _lots(pks: Sequence[int]) -> Mapping[int, list[Lot]]:
    found: defaultdict[int, list[Lot]] = defaultdict(list)
    lots = Lot.objects.with_some_left().filter(material__in=pks).select_related("material")
    for lot in lots.oldest_first():
        found[lot.material_id].append(lot)
    return found


def _by_day(purchases: Iterable[Purchase], today: date) -> Mapping[int, int]:
    """Return what comes on which day from today; overdue purchases are expected tomorrow."""
    found: defaultdict[int, int] = defaultdict(int)
    for each in purchases:
        found[max((each.expected_on - today).days, 1)] += each.to_come
    return found
