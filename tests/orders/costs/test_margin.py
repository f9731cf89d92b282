"""What a job earns, and which kinds and sources of jobs earn most."""

from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from orders.costs.margin import Rates, Work, by, earned

RATES = Rates(hour_minor=1800, card_percent=Decimal("1.75"), royalty_percent=Decimal(10))

WORK = Work("CY8YEGPH", 24000, 4000, 24000, 2150, 300, 640, "set", "fair")

works = st.lists(
    st.builds(
        Work,
        key=st.uuids().map(str),
        gross_minor=st.integers(0, 100_000),
        vat_minor=st.just(0),
        by_card_minor=st.integers(0, 100_000),
        material_minor=st.integers(0, 20_000),
        minutes=st.integers(0, 900),
        travel_minor=st.integers(0, 5_000),
        group=st.sampled_from(["single", "pair", "set"]),
        source=st.sampled_from(["fair", "web"]),
    ),
    max_size=25,
)


def test_one_job_by_hand():
    found = earned(WORK, RATES)
    # 200.00 net; work 5 h at 18.00; card 1.75 % of 240.00 = 4.20; royalty 10 % of 200.00 = 20.00
    assert (found.net_minor, found.work_minor, found.fees_minor) == (20000, 9000, 2420)
    assert found.margin_minor == 20000 - 2150 - 9000 - 2420 - 640
    assert found.an_hour_minor == (20000 - 2150 - 2420 - 640) * 60 // 300


def test_a_job_without_minutes_names_no_hour():
    assert earned(Work("x", 100, 0, 0, 0, 0, 0), RATES).an_hour_minor is None


@given(works)
def test_groups_hold_every_job_once(jobs):
    for name in (lambda work: work.group, lambda work: work.source):
        groups = by(jobs, RATES, name)
        assert sum(group.jobs for group in groups) == len(jobs)
        whole = sum(earned(job, RATES).margin_minor for job in jobs)
        assert sum(group.margin_minor for group in groups) == whole
        assert [g.margin_minor for g in groups] == sorted(
            (g.margin_minor for g in groups), reverse=True
        )
