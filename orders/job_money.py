"""The money of a job as its page shows it: facts alone, kept while none of its reads differs."""

from dataclasses import dataclass
from datetime import date, datetime

from orders import queries
from studio.models import Job
from studio.watched import watched


@dataclass(frozen=True, slots=True)
class JobSaid:
    """How far the job is."""

    stage: str
    is_closed: bool


@dataclass(frozen=True, slots=True)
class Standing:
    """The invoice that stands."""

    number: str
    issued_on: date


@dataclass(frozen=True, slots=True)
class JobMoney:
    """An order as `_standing.html` and `_look_words.html` read it, with its sums and its invoice."""

    job: JobSaid
    released_at: datetime | None
    released_why: str
    plate_words: str
    layout_words: str
    sums: queries.Sums
    standing: Standing | None
    every_piece: bool


@watched
def job_money(job_pk: int) -> JobMoney | None:
    """None while it has no price."""
    job = Job.objects.select_related("unit").get(pk=job_pk)
    order = queries.order_of(job)
    if order is None:
        return None
    standing = queries.standing_invoice(order)
    return JobMoney(
        job=JobSaid(job.stage, job.is_closed),
        released_at=order.released_at,
        released_why=order.released_why,
        plate_words=order.plate_words,
        layout_words=order.layout_words,
        sums=queries.sums(order),
        standing=Standing(standing.number, standing.issued_on) if standing else None,
        every_piece=queries.prices_every_piece(order),
    )
