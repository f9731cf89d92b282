"""What can be learnt from spoiled pieces: three cases do not shout, a hundred may speak."""

import re

from hypothesis import given
from hypothesis import strategies as st

from production.spoilage import rates


def group(name, cases, spoiled):
    return [(name, number < spoiled) for number in range(cases)]


def of(found, name):
    return next(rate for rate in found if rate.group == name)


def test_three_of_three_is_too_few_to_learn_from():
    found = rates.spoilage_rates([*group("feet", 3, 3), *group("hands", 97, 4)])
    feet = of(found, "feet")
    assert not feet.differs
    assert "too few" in rates.rate_sentence(feet)
    assert feet.likely < 0.4  # drawn far towards the others


def test_a_few_more_do_not_stand_out_by_chance():
    found = rates.spoilage_rates([*group("feet", 20, 2), *group("hands", 200, 10)])
    assert not any(rate.differs for rate in found)
    assert "as with the others" in rates.rate_sentence(of(found, "feet"))
    assert re.search(r"probably \d+ to \d+ %", rates.rate_sentence(of(found, "feet")))


def test_three_cases_in_all_make_nobody_stand_out():
    found = rates.spoilage_rates(
        [*group("left hand", 40, 0), *group("feet", 45, 3), *group("x", 10, 0)]
    )
    assert not any(rate.differs for rate in found)


def test_many_that_differ_are_worth_a_look():
    found = rates.spoilage_rates([*group("left foot", 80, 24), *group("hands", 200, 6)])
    foot = of(found, "left foot")
    assert foot.differs
    assert "worth a look" in rates.rate_sentence(foot)
    assert "less often" in rates.rate_sentence(of(found, "hands"))


def test_without_a_cast_there_is_nothing_to_say():
    assert rates.spoilage_rates([]) == []
    assert rates.wilson(0, 0) == (0.0, 1.0)


@given(st.lists(st.tuples(st.sampled_from("abc"), st.booleans()), min_size=1, max_size=60))
def test_every_rate_lies_within_its_interval_and_between_0_and_1(cases):
    for rate in rates.spoilage_rates(cases):
        assert 0 <= rate.low <= rate.likely <= rate.high <= 1
        assert rate.cases == sum(name == rate.group for name, _ in cases)
        lowest, highest = sorted((rate.spoiled / rate.cases, rate.common))
        assert lowest - 1e-12 <= rate.likely <= highest + 1e-12


def test_ages_are_told_in_bands():
    weeks = (None, 8, 15, 16, 25, 26, 51, 52, 300)
    assert [rates.age_group(each) for each in weeks] == [
        "age not known",
        *["under 16 weeks"] * 2,
        *["16 to 25 weeks"] * 2,
        *["26 to 51 weeks"] * 2,
        *["a year and more"] * 2,
    ]
