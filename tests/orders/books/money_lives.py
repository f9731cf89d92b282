"""Invented lives of a studio's books, in memory: what the actions do with rows, done with plain data.

Every sum comes from the pure modules that the actions call (prices, discounts, tax points, papers, vouchers'
parts, the ledger, the royalty); only the keeping of rows is made up here. A life is a registration for
the tax or none, a change of its rate, some vouchers, some orders, and a few dozen happenings on rising days.
"""

from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from random import Random

from orders.books import ledger
from orders.invoices import invoice_content
from orders.prices import pricing, vat
from orders.prices.vat import Rate, Received, Registration, TaxPoint
from orders.royalty import franchise_fee
from orders.vouchers import voucher_redemption
from studio import money

BEGAN = date(2026, 1, 5)

SELLER = invoice_content.Seller(
    "Hollin Casts",
    "Marian Hollin",
    "4 Kiln Yard\nAshmouth",
    "CF10 9ZZ",
    "01632 960111",
    "hollin@example.com",
    "GB 123 4567 89",
)

CUSTOMER = invoice_content.Customer("Sam Okafor", "9 Quay Row\nAshmouth", "CF10 9ZZ")

RATES = (Rate(date(2011, 1, 4), Decimal(20)), Rate(date(2026, 3, 1), Decimal("17.5")))


@dataclass
class Card:
    """A voucher: its uses in the order in which they were written down."""

    code: str
    sold_on: date
    sold: voucher_redemption.Sold
    taxed: bool
    uses: list[int] = field(default_factory=list)
    cancelled_on: date | None = None

    @property
    def left_minor(self):
        return self.sold.value_minor - sum(self.uses)


@dataclass
class Pay:
    on: date
    minor: int
    card: Card | None = None
    live: bool = True


@dataclass
class Order:
    account: str
    lines: list[invoice_content.Sold]
    pays: list[Pay] = field(default_factory=list)
    papers: list[dict] = field(default_factory=list)
    standing: dict | None = None
    notes: list[dict] = field(default_factory=list)
    """Credit notes for parts of the standing invoice."""

    @property
    def total_minor(self):
        return sum(line.gross_minor for line in self.lines)

    @property
    def paid_minor(self):
        return sum(pay.minor for pay in self.pays)

    @property
    def taxed_before_minor(self):
        return sum(pay.minor for pay in self.pays if pay.card and pay.card.taxed)

    @property
    def balance_minor(self):
        return self.total_minor - self.paid_minor


class Life:
    """`steps` happenings; what cannot be done is left out, as the actions refuse it."""

    def __init__(self, seed, steps=40):
        self.dice = Random(seed)  # noqa: S311 - invented books, the same each time
        self.today = BEGAN
        self.entries, self.takings, self.orders, self.cards = [], [], [], []
        self.numbers = {"INV-": 0, "CRN-": 0}
        begins = self.dice.choice([None, BEGAN, BEGAN + timedelta(days=self.dice.randrange(120))])
        leaves = BEGAN + timedelta(days=130) if begins and self.dice.random() < 0.2 else None
        self.registration = Registration(begins, leaves)
        self.offers = self._offers()
        for _ in range(steps):
            self.today += timedelta(days=self.dice.choice([0, 1, 3, 11]))
            self.dice.choice(self.HAPPENINGS)(self)

    def percent_on(self, day):
        return vat.percent_on(day, self.registration, RATES)

    # orders --------------------------------------------------------------------------------------

    def _offers(self):
        single = self.dice.randrange(4000, 15000)
        pair = self.dice.randrange(single, 2 * single)
        made = [pricing.Offer("1", "Single", 1, single), pricing.Offer("2", "Pair", 2, pair)]
        if self.dice.random() < 0.6:
            price = self.dice.randrange(pair, 2 * pair)
            made.append(pricing.Offer("4", "Set", 4, price, one_child=self.dice.random() < 0.5))
        return made

    def opens(self):
        pieces = {child: self.dice.randrange(1, 5) for child in range(self.dice.randrange(1, 4))}
        chosen = pricing.cheapest(pieces, self.offers)
        assert sum(one.quantity * one.offer.pieces for one in chosen) == sum(pieces.values())
        lines = [
            invoice_content.Sold(c.offer.label, c.quantity, c.offer.price_minor) for c in chosen
        ]
        lines += [
            invoice_content.Sold(
                "Plate", self.dice.randrange(1, 4), self.dice.choice([0, 333, 999, 1250])
            )
        ]
        rules = [(Decimal(self.dice.choice(["2.5", "10", "33.33"])), 0), (None, 777)]
        base_minor = sum(line.gross_minor for line in lines)
        off = pricing.discounts(base_minor, rules[: self.dice.randrange(3)])
        assert sum(off) <= base_minor
        lines += [invoice_content.Sold("Discount", 1, -minor) for minor in off if minor]
        self.orders.append(Order(f"JOB-{len(self.orders)}", lines))

    def changes(self):
        if (order := self._any()) and order.standing is None and order.total_minor > 100:
            minor = self.dice.randrange(1, order.total_minor // 3)
            order.lines.append(invoice_content.Sold("A friend", 1, -minor))

    def _any(self):
        return self.dice.choice(self.orders) if self.orders else None

    # money ---------------------------------------------------------------------------------------

    def _book(self, order, pay):
        order.pays.append(pay)
        code = pay.card.code if pay.card else ""
        taxed = bool(pay.card and pay.card.taxed)
        number = f"P{len(order.pays)}"
        row = ledger.Money(pay.on, number, order.account, pay.minor, "", code, taxed)
        self.entries += ledger.of_money(row)
        if pay.card is None:
            return
        before = voucher_redemption.parts(pay.card.sold, pay.card.uses)
        pay.card.uses.append(pay.minor)
        part = voucher_redemption.parts(pay.card.sold, pay.card.uses)[-1]
        assert voucher_redemption.parts(pay.card.sold, pay.card.uses)[:-1] == before
        if taxed:
            source = f"{order.account} {number}"
            self._taking(source, part.price_minor, part.vat_minor)

    def _taking(self, source, gross_minor, vat_minor):
        self.takings.append(franchise_fee.Taking(source, self.today, gross_minor, vat_minor))

    def pays(self):
        if (order := self._any()) and order.balance_minor > 0:
            most = order.balance_minor + self.dice.choice([0, 0, 0, 500])
            self._book(order, Pay(self.today, self.dice.choice([most, max(1, most // 3)])))

    def reverses(self):
        if not (order := self._any()):
            return
        live = [pay for pay in order.pays if pay.live and pay.minor > 0]
        if not live:
            return
        pay = self.dice.choice(live)
        if pay.card and pay.card.taxed and order.standing:
            return
        pay.live = False
        self._book(order, Pay(self.today, -pay.minor, pay.card, live=False))

    def pays_back(self):
        if (order := self._any()) and order.balance_minor < 0:
            money_minor = sum(pay.minor for pay in order.pays if pay.card is None)
            if (minor := min(-order.balance_minor, money_minor)) > 0:
                self._book(order, Pay(self.today, -minor))

    # vouchers ------------------------------------------------------------------------------------

    def sells(self):
        value_minor = self.dice.choice([999, 2500, 5000, 12000])
        price_minor = self.dice.choice([value_minor, value_minor * 9 // 10, value_minor // 3])
        taxed = self.dice.random() < 0.5
        percent = self.percent_on(self.today) if taxed else None
        tax_minor = 0 if percent is None else money.vat_inside(price_minor, percent)
        sold = voucher_redemption.Sold(value_minor, price_minor, tax_minor)
        card = Card(f"V{len(self.cards)}", self.today, sold, taxed)
        self.cards.append(card)
        self.entries += ledger.of_card(self._row(card))

    def _row(self, card, *, sold=True):
        worth = card.sold
        return ledger.Card(
            self.today,
            card.code,
            worth.value_minor,
            worth.price_minor,
            worth.vat_minor,
            sold=sold,
        )

    def uses(self):
        open_cards = [each for each in self.cards if each.left_minor and not each.cancelled_on]
        order = self._any()
        if not open_cards or not order or order.balance_minor <= 0:
            return
        card = self.dice.choice(open_cards)
        if card.taxed and order.standing:
            return
        most = min(card.left_minor, order.balance_minor)
        self._book(order, Pay(self.today, self.dice.choice([most, max(1, most // 3)]), card))

    def cancels(self):
        for card in self.cards:
            if not card.cancelled_on and card.left_minor == card.sold.value_minor:
                card.cancelled_on = self.today
                self.entries += ledger.of_card(self._row(card, sold=False))
                return

    # papers --------------------------------------------------------------------------------------

    def _number(self, prefix):
        self.numbers[prefix] += 1
        return f"{prefix}{self.numbers[prefix]:04}"

    def issues(self):
        order = self._any()
        if not order or order.standing or order.total_minor - order.taxed_before_minor <= 0:
            return
        received = [
            Received(pay.on, pay.minor, "card", f"Voucher {pay.card.code}" if taxed else "")
            for pay in order.pays
            if pay.live
            for taxed in [bool(pay.card and pay.card.taxed)]
        ]
        lines, came = invoice_content.less_taxed_before(order.lines, received)
        total_minor = sum(line.gross_minor for line in lines)
        supplied_on = self.today - timedelta(days=self.dice.choice([0, 0, 2]))
        points = [
            TaxPoint(on, minor, self.percent_on(on))
            for on, minor in vat.slices(total_minor, came, supplied_on)
        ]
        facts = invoice_content.Facts(
            currency="GBP",
            seller=SELLER,
            customer=CUSTOMER,
            reference="CY8Y-EGPH",
            pieces=[],
            lines=lines,
            received=came,
            tax_points=points,
            issued_on=self.today,
            supplied_on=supplied_on,
            due_on=self.today + timedelta(days=14),
            payment_words="",
        )
        content = invoice_content.invoice(self._number("INV-"), facts)
        order.standing, order.notes = content, []
        self._enter(order, content, 1)

    def _enter(self, order, content, sign):
        order.papers.append(content)
        kind = ledger.INVOICE if sign > 0 else ledger.CREDIT
        total_minor, tax_minor = content["total_minor"], content.get("vat_minor", 0)
        self.entries.append(
            ledger.Entry(
                self.today,
                kind,
                content["number"],
                order.account,
                sign * total_minor,
                sign * tax_minor,
            )
        )
        self._taking(content["number"], sign * total_minor, sign * tax_minor)

    def credit(self):
        if not (order := self._any()) or not order.standing:
            return
        left = order.standing["total_minor"] - sum(n["total_minor"] for n in order.notes)
        if left <= 0:
            return
        if self.dice.random() < 0.5:
            self._credit_all(order)
            return
        minor = self.dice.choice([left, max(1, left // 3), 1])
        note = invoice_content.credit_part(
            order.standing, amount_minor=minor, before=order.notes, **self._how()
        )
        order.notes.append(note)
        order.lines.append(invoice_content.Sold("Credited", 1, -minor))
        self._enter(order, note, -1)

    def _how(self):
        return {"number": self._number("CRN-"), "issued_on": self.today, "why": "A crack"}

    def _credit_all(self, order):
        left = order.standing["total_minor"] - sum(n["total_minor"] for n in order.notes)
        if left:
            note = invoice_content.credit(order.standing, before=order.notes, **self._how())
            self._enter(order, note, -1)
        order.standing, order.notes = None, []

    def undo(self):
        """Credit every invoice, reverse every payment, take every voucher back."""
        for order in self.orders:
            if order.standing:
                self._credit_all(order)
            for pay in [pay for pay in order.pays if pay.live]:
                pay.live = False
                self._book(order, Pay(self.today, -pay.minor, pay.card, live=False))
        for _ in self.cards:
            self.cancels()

    HAPPENINGS = (
        opens,
        opens,
        changes,
        pays,
        pays,
        pays,
        reverses,
        pays_back,
        sells,
        uses,
        uses,
        cancels,
        issues,
        issues,
        credit,
    )
