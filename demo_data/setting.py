"""What all demo jobs share: the unit, its people, the clock, the diary and the bench."""

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID, uuid5
from zlib import crc32

from bookings.consent import actions as consent_actions
from demo_data.bench import Bench
from demo_data.clock import Clock, Diary
from orders.order.models import Order
from orders.payments.actions import take_payment
from orders.payments.models import Payment
from studio.accounts.models import Unit, User
from studio.families.models import Family


@dataclass(frozen=True, slots=True)
class Setting:
    unit: Unit
    owner: User
    helper: User
    clock: Clock
    diary: Diary
    bench: Bench
    courses: dict[str, list[tuple[int, float]]]
    consents: dict[str, tuple[str, ...]]
    """By family: the purposes to which it consents, beside the making of the casts."""
    asked_on: dict[str, date]
    """By family: the day of its enquiry."""
    namespace: UUID

    @staticmethod
    def spread(name: str) -> int:
        """A number that differs between jobs and is the same in every run."""
        return crc32(name.encode())

    def ask_consent(self, family: Family, at: datetime) -> None:
        """Give the family's consents if it was not asked before."""
        if family.consents.exists():
            return
        for purpose in ("make", *self.consents[family.name]):
            consent_actions.give_consent(
                family,
                purpose=purpose,
                given_by=family.contact_name,
                by=self.owner,
                at=at,
                key=uuid5(self.namespace, f"{family.name} {purpose}"),
            )

    def take(
        self, order: Order, amount_minor: int, method: str, at: datetime, key: UUID
    ) -> Payment:
        """Record a payment received on the day of `at`."""
        return take_payment(
            order,
            amount_minor=amount_minor,
            method=method,
            received_on=self.clock.local_day(at),
            by=self.owner,
            at=at,
            key=key,
        )
