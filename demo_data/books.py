"""Book-keeping of the demo, loaded after its jobs: vouchers, bank statement, royalty, quotes and receipts."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any, cast
from uuid import UUID, uuid5

from dateutil.relativedelta import relativedelta

from demo_data import files
from demo_data.clock import Clock
from demo_data.setting import Setting
from orders.balances.actions import note_reminder
from orders.balances.ageing import ageing
from orders.balances.debts import owed
from orders.bank.actions import read_statement, set_columns, take_statement
from orders.bank.bank_files import Columns
from orders.books.actions import set_vat_threshold
from orders.costs.actions import set_work_rates
from orders.order.models import Order
from orders.payments.models import Payment
from orders.payments.payment_references import creditor_reference
from orders.quotes.actions import accept_quote, decline_quote
from orders.quotes.quotation import offer_of
from orders.receipts.actions import give_receipt
from orders.royalty.actions import send_return, set_royalty_terms
from orders.royalty.drafts import draft_return
from orders.vouchers.actions import pay_by_voucher, sell_voucher
from studio.accounts.models import Unit, User
from studio.families.models import Family
from studio.stages import BEFORE_FRAMING
from studio.web.csv_tables import amount

_COLUMNS = Columns(booked_on="Date", words="Details", amount="Amount", name="Name")
_HEADINGS = ["Date", "Name", "Details", "Amount"]
_MOST_PROPOSED = 3
_RECEIPTS = 3
_ANSWERS = 2


def write(setting: Setting) -> None:
    unit, owner, clock = setting.unit, setting.owner, setting.clock
    set_work_rates(unit, hour_minor=1600, card_percent=Decimal("1.75"))
    _royalty(unit, owner, clock)
    _vouchers(setting)
    _bank(unit, owner, clock)
    _papers(setting)
    _answers(setting)


def _answers(setting: Setting) -> None:
    """Decline one changed quote and accept another on the family pages."""
    unit, at = setting.unit, setting.clock.now - timedelta(hours=2)
    today = setting.clock.day(0)
    followed = unit.jobs.filter(stage__in=BEFORE_FRAMING, family_links__revoked_at=None)
    orders_of = unit.orders.filter(job__in=followed.values("pk")).order_by("-pk")
    for number, order in enumerate(orders_of.exclude(job__parent_links=None)[:_ANSWERS]):
        offer, key = offer_of(order, today), _key(setting, order)
        accepted = order.quotes.last()
        if accepted and accepted.content == offer.content:
            continue
        if number == 0:
            words = "Lovely, but could it be without the extras?"
            decline_quote(order, fingerprint=offer.fingerprint, words=words, at=at, key=key)
        else:
            accept_quote(order, how="link", fingerprint=offer.fingerprint, by=None, at=at, key=key)


def _papers(setting: Setting) -> None:
    """Set the VAT threshold, give receipts for the newest payments, and note a reminder."""
    unit, clock = setting.unit, setting.clock
    set_vat_threshold(
        unit,
        valid_from=date(2024, 4, 1),
        facts={"register_minor": 90_000_00, "leave_minor": 88_000_00, "warn_percent": 80},
    )
    came = unit.payments.filter(amount_minor__gt=0, reversed_by=None)
    for payment in came.with_people().newest_first()[:_RECEIPTS]:
        give_receipt(payment, by=setting.owner, at=clock.now, key=_key(setting, payment))
    for late in ageing(unit, clock.day(0)).rows[:1]:
        if late.days_late < 1:
            continue
        order = unit.orders.get(job__reference=late.reference)
        note_reminder(order, by=setting.owner, at=clock.now, key=_key(setting, order))


def _key(setting: Setting, row: Payment | Order) -> UUID:
    return uuid5(setting.namespace, f"paper of {row._meta.model_name} {row.pk}")


def _royalty(unit: Unit, owner: User, clock: Clock) -> None:
    """Set royalty terms that began 15 months ago, and send all monthly returns except the last."""
    begun = clock.day(0).replace(day=1) - relativedelta(months=15)
    facts = files.document("unit")["royalty"]
    set_royalty_terms(
        unit,
        facts={
            "valid_from": begun,
            "royalty_percent": Decimal(facts["royalty_percent"]),
            "levy_percent": Decimal(facts["levy_percent"]),
            "minimum_minor": files.pence(facts["minimum"]),
            "vat_percent": Decimal(facts["vat_percent"]),
            "basis": "received",
            "voucher_at": "use",
            "every_months": 1,
        },
    )
    until = clock.day(0).replace(day=1) - relativedelta(months=1)
    while (draft := draft_return(unit, clock.day(0))) and draft.last_on < until:
        at = clock.on(draft.last_on + timedelta(days=3), "20:10")
        send_return(unit, last_on=draft.last_on, by=owner, at=at)


def _vouchers(setting: Setting) -> None:
    unit, clock = setting.unit, setting.clock
    # The stubs do not know what `with_balance` adds.
    owing = cast(Any, unit.orders.unsettled().with_balance()).filter(balance__gt=0)
    used = owing.order_by("pk").first()
    for row in files.document("unit")["vouchers"]:
        at = clock.on(clock.day(-row["days_ago"]), "19:20")
        voucher = sell_voucher(
            unit,
            facts={
                "value_minor": files.pence(row["worth"]),
                "price_minor": files.pence(row["price"]),
                "method": row["method"],
                "buyer": row["buyer"],
                "for_whom": row.get("for", ""),
                "words": row.get("words", ""),
                "expires_on": clock.day(row["good_for_days"] - row["days_ago"]),
                "taxed_when_sold": row.get("one_rate", False),
            },
            by=setting.owner,
            at=at,
            key=uuid5(setting.namespace, f"voucher of {row['buyer']}"),
        )
        if row.get("used") and used:
            pay_by_voucher(
                used,
                code=voucher.code,
                amount_minor=files.pence(row["used"]),
                by=setting.owner,
                at=clock.now - timedelta(hours=20),
                key=uuid5(setting.namespace, f"use of {voucher.buyer}'s voucher"),
            )


def _bank(unit: Unit, owner: User, clock: Clock) -> None:
    """Import a bank statement: payments with a reference, one with a name only, one unknown."""
    set_columns(unit, headings=_HEADINGS, columns=_COLUMNS)
    debts = [debt for debt in owed(unit, clock.day(0)) if debt.balance_minor > 0]
    rows = []
    for number, debt in enumerate(debts[:_MOST_PROPOSED]):
        family = Family.objects.get(unit=unit, jobs__reference=debt.reference)
        words = "casts" if number else creditor_reference(debt.reference)
        sum_paid = amount(debt.balance_minor, unit.currency)
        rows.append((clock.day(-2 - number), family.contact_name.upper(), words, sum_paid))
    rows.append((clock.day(-3), "ASHMOUTH KILN SUPPLIES", "INVOICE 4417", Decimal("-54.20")))
    rows.append((clock.day(-6), "T HARBOTTLE", "thank you", Decimal("20.00")))
    lines = [",".join(_HEADINGS)]
    lines += [f"{on:%d/%m/%Y},{name},{words},{money}" for on, name, words, money in rows]
    statement = take_statement(
        unit,
        name="ashmouth-savings.csv",
        data="\n".join(lines).encode(),
        by=owner,
        at=clock.now - timedelta(hours=22),
    )
    read_statement(statement)
