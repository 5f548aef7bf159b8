"""A hub is asked for hours of flow only where the owner allows it, and only when the hours change."""

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest

from dosectl.core.control.demand import flow_wanted_h
from dosectl.core.control.params import ControlParams
from dosectl.daemon.teller import BusTeller
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.loop import ClosedLoop, demo_loaded
from dosectl.texts.render import Texts


class Recorder:
    """Stands for the bus."""

    def __init__(self) -> None:
        self.hours: list[float] = []

    def publish_pump_hours(self, hours: float) -> bool:
        self.hours.append(hours)
        return True

    def __getattr__(self, _name: str) -> Any:
        return lambda *_: True


@pytest.mark.parametrize("asks", [True, False])
def test_hours_are_asked_for_once_where_the_owner_allows_it(asks: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    loop = ClosedLoop.of(demo_loaded(), PoolPlant(quince_house(), QUINCE_HOUSE_START, 1))
    site = replace(loop.plan.site, pool=replace(loop.plan.site.pool, asks_pump_hours=asks))
    bus = Recorder()
    teller = BusTeller(bus, site, Texts(site.pool.time_zone), dict)  # type: ignore[arg-type]
    monkeypatch.setattr("dosectl.daemon.teller.VIEW_PERIOD_S", 0.0)
    monkeypatch.setattr("dosectl.daemon.teller.view_of", lambda *_: {"alarms": []})
    decision = loop.one().decision
    for hours in (6.0, 6.0, 8.5):
        said = replace(decision, control=replace(decision.control, flow_wanted_h=hours))
        teller.tell(SimpleNamespace(), said)  # type: ignore[arg-type]
    assert bus.hours == ([6.0, 8.5] if asks else [])


def test_the_hours_carry_the_loss_and_turn_the_water_over() -> None:
    site = demo_loaded().site
    rate_mg_l_h = sum(f.rate_g_s for f in site.feeders if f.substance.value == "chlorine") * 3600.0 / site.pool.volume_m3
    assert flow_wanted_h(site, ControlParams(), 0.1) == site.pool.turnover_h
    hours = flow_wanted_h(site, ControlParams(), 3.0)
    assert hours > site.pool.turnover_h
    assert 3.0 <= 0.85 * hours * rate_mg_l_h <= 3.0 + 0.5 * rate_mg_l_h
    assert flow_wanted_h(site, ControlParams(), 50.0) == 24.0
