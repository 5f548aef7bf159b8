"""The day's line for who is away: "all is well" with figures, or what is not well. Facts only; `texts.lines` makes the words."""

from collections.abc import Iterator

from dosectl.chemistry.chlorine import upper_free_chlorine_limit_mg_l
from dosectl.core.alarms.catalogue import BY_CODE
from dosectl.core.alarms.states import standing
from dosectl.core.alarms.view import Priority
from dosectl.core.control.reasons import FALLBACK_UNSURE
from dosectl.core.controller.state import State
from dosectl.core.site import Site
from dosectl.daemon.account import stock_days
from dosectl.model.feeds import Substance
from dosectl.model.reasons import Fact, Facts
from dosectl.model.signals import SignalKind

DAY_S = 86400.0
PH = (7.0, 8.0)
"""Outside of it nobody says that all is well; common practice is 7.2 to 7.8."""
UNSURE = 4.0  # upper bound over lower: then the chlorine is not known well enough to say so; proposed
HALF = 0.5  # below the target's half nobody should swim, as the alarms say
STOCK_DAYS_MIN = 3.0


def morning(site: Site, state: State, target_mg_l: float) -> Facts:
    """What the line says. `not:<which>` facts say what is not well; without any, all is well. target_mg_l : today's target"""
    durable, water = state.durable, state.working.view
    clock_s = durable.clocks.clock_s
    facts: dict[str, Fact] = {f"not:{name}": value for name, value in _not_well(site, state, target_mg_l)}
    if water is not None:
        facts |= {
            "free_mg_l": round(water.free_chlorine_mg_l, 1),
            "low_mg_l": round(water.low95_mg_l, 1),
            "high_mg_l": round(water.high95_mg_l, 1),
            "ph": round(water.ph, 2),
        }
    orp = site.first(SignalKind.ORP)
    reading = None if orp is None else (state.working.probes.readings or {}).get(orp.id)
    value = None if reading is None else reading.number()
    if value is not None:
        facts["orp_mv"] = round(value)
    for substance in Substance:
        if site.feeding(substance):
            facts[f"fed:{substance.value}"] = round(durable.ledger.window_g(substance, clock_s, DAY_S) / site.pool.volume_m3, 1)
    for feeder in site.feeders:
        days = stock_days(site, durable, feeder)
        if days is not None:
            facts[f"stock:{feeder.id}"] = round(days)
    return tuple(facts.items())


def _not_well(site: Site, state: State, target_mg_l: float) -> Iterator[tuple[str, Fact]]:
    durable, water = state.durable, state.working.view
    for alarm in standing(durable.alarms):
        if (alarm.present or alarm.latched) and BY_CODE[alarm.code].priority_at(alarm.level) >= Priority.LOW:
            yield f"alarm:{alarm.code}", alarm.occurrence
    if durable.standing.stop is not None or durable.standing.service is not None:
        yield "held", 1
    why = state.working.control.fallback_why
    if why is not None and why.code != FALLBACK_UNSURE.code:
        yield "fallback", 1
    if water is None or water.high95_mg_l > UNSURE * max(water.low95_mg_l, 0.01):
        yield "unsure", 1
    elif water.free_chlorine_mg_l < HALF * target_mg_l:
        yield "chlorine_low", round(water.free_chlorine_mg_l, 1)
    elif water.free_chlorine_mg_l > upper_free_chlorine_limit_mg_l(min(1000.0, water.cya_mg_l)):
        yield "chlorine_high", round(water.free_chlorine_mg_l, 1)
    if water is not None and not PH[0] <= water.ph <= PH[1]:
        yield "ph", round(water.ph, 2)
    for feeder in site.feeders:
        days = stock_days(site, durable, feeder)
        if days is not None and days < STOCK_DAYS_MIN:
            yield "stock", round(days, 1)
