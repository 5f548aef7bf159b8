"""The short form of `python -m tests.benchmarks.absence_year`: quiet days make no alarm, a fault is called, mended and over."""

import pytest

from dosectl.core.alarms.view import Priority
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.diary import Entry, Household
from dosectl.rehearsal.season import Season


def a_house(*diary: Entry, closed: tuple[int, int] | None = None, hypochlorite: bool = False) -> Household:
    return Household(Season(quince_house(hypochlorite), QUINCE_HOUSE_START, 2, hypochlorite), diary, closed)


@pytest.mark.parametrize("hypochlorite", [False, True], ids=["cell", "hypochlorite"])
def test_quiet_days_make_no_alarm_and_no_call(hypochlorite: bool) -> None:
    heard = a_house(hypochlorite=hypochlorite).run(6.0)
    assert [item for item in heard.alarms if item.priority >= Priority.LOW] == []
    assert [item for item in heard.calls if item.priority >= Priority.LOW] == []


def test_a_fault_of_the_diary_is_called_and_mended_and_nothing_is_heard_after_it() -> None:
    house = a_house(Entry(1, 6.0, "flow_lost", mending_h=1.0))
    heard = house.run(4.0)
    ((entry, first_h),) = heard.mended
    assert entry.fault == "flow_lost"
    assert first_h is not None
    assert 0.1 < first_h < 0.5
    assert {item.code for item in heard.alarms if item.priority >= Priority.LOW} == {"flow.lost"}
    assert house.season.plant.faults == ()


def test_a_closed_season_feeds_nothing_and_makes_no_alarm_and_the_opened_pool_is_fed_again() -> None:
    house = a_house(closed=(1, 5))
    fed: list[float] = []
    for day in range(8):
        house.run(1.0)
        fed.append(house.season.plant.truth().fed_chlorine_g)
        assert [item.code for item in house.heard.alarms if item.priority >= Priority.LOW] == [], f"on day {day}"
    assert fed[0] > 0.0
    assert fed[4] == fed[2], "nothing is fed while it is closed"
    assert fed[7] > fed[5]
