"""What may be fed in the coming days: by size of the feeders, by the limits, and by what bars a feeder and is there to stay.

A feeder that waits for a person is not reckoned with: a forecast that feeds from a stopped plant sends nobody there.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from dosectl.chemistry.sunlight import clear_sky_uv, sun_elevation_deg
from dosectl.core.advice.stocks import usable_mg_l
from dosectl.core.control.fallback import BLIND_MG_L_MAX, HOURS_MIN
from dosectl.core.control.habit import FlowHabit
from dosectl.core.control.params import ControlParams
from dosectl.core.control.pulses import steady_g_s
from dosectl.core.evidence import Standing
from dosectl.core.interlocks.fallback import FIRST_DAYS, LATER_SHARE, LEAST_USUAL_MG_L, SUFFIX
from dosectl.core.interlocks.guards import cover_closed
from dosectl.core.interlocks.shown import TEST_DAYS
from dosectl.core.interlocks.usage import usual_of
from dosectl.core.site import Pool, Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.ledger import Ledger
from dosectl.model.verdicts import Bar
from dosectl.model.water_tests import Quantity, WaterTest

HOUR_S, DAY_S, DAY_H = 3600.0, 86400.0, 24


@dataclass(frozen=True, slots=True)
class Allowed:
    """What the interlocks let be fed: as set at the installation, by usual use, and as they judged last.

    day_mg_l, hour_mg_l : at most [mg/L a day, mg/L an hour]
    bars : objections that are there to stay
    fed_mg_l : of chlorine in each of the last 23 hours, the latest last; empty: nothing
    single_mg_l, mixing_s : the most of one feed of a pump [mg/L], and the flow after a short one before the next [s]
    left_mg_l : of each feeder whose container has a refill on record, what it can still bring [mg/L by the label]
    later_s, later_mg_l : from so many seconds on a fall-back without a new test has this daily rate, None: no fall-back
    """

    day_mg_l: float = 5.0
    hour_mg_l: float = 1.0
    bars: tuple[Bar, ...] = ()
    fed_mg_l: tuple[float, ...] = ()
    later_s: float | None = None
    later_mg_l: float = 0.0
    left_mg_l: tuple[tuple[FeederId, float], ...] = ()
    single_mg_l: float = 0.5
    mixing_s: float = 1200.0


@dataclass(frozen=True, slots=True)
class Feeding:
    """What is left to plan with.

    able : feeders that nothing bars
    capacity_mg_l_h : what the chlorine feeders among them give together; steady_mg_l_h : fed on a fall-back, whatever is believed
    limit_mg_l : the daily limit; rates : of chlorine feeders, each tighter or looser than that, some until a moment
    why : what bars or holds each feeder: what bars it, else its tightest rate and those that outlast it
    """

    able: tuple[FeederId, ...]
    capacity_mg_l_h: float
    steady_mg_l_h: float
    limit_mg_l: float
    rates: tuple[Bar, ...]
    why: tuple[Bar, ...]

    def room_mg_l(self, at: datetime, fed_mg_l: Sequence[float], later_mg_l: float | None = None) -> float:
        """What may be fed in the hour that begins `at`, after what was fed in each hour before it, the latest last.

        later_mg_l : a rate that holds by then besides, of a fall-back that has become old
        """
        days = [self.limit_mg_l, *(bar.rate_mg_l_day for bar in self.rates if bar.rate_mg_l_day is not None and holds(bar, at))]
        if later_mg_l is not None:
            days.append(later_mg_l)
        return max(0.0, min(days) - sum(fed_mg_l[-(DAY_H - 1) :]))

    def free(self, site: Site, substance: Substance) -> bool:
        """Whether any feeder of a substance may feed."""
        return any(feeder in self.able for feeder in site.feeding(substance))


def feeding(site: Site, control: ControlParams, habit: FlowHabit, standing: Standing, allowed: Allowed) -> Feeding:
    """What may be fed as things stand."""
    bars = standing_bars(site, standing, allowed.bars)
    shut = {bar.feeder for bar in bars if bar.rate_mg_l_day is None}
    able = tuple(feeder.id for feeder in site.feeders if feeder.id not in shut)
    chlorine = site.feeding(Substance.CHLORINE)
    rates = tuple(bar for bar in bars if bar.feeder in chlorine and bar.rate_mg_l_day is not None)
    steady = 0.0
    if standing.fallback_since_s is not None and rates:
        usual = min(BLIND_MG_L_MAX, usual_of(dict(standing.daily_use_mg_l).get(Substance.CHLORINE, ())))
        steady = control.fallback_share * usual / max(HOURS_MIN, habit.daily_h)
    capacity = lasting_mg_l_h(site, within(control, allowed), able)
    return Feeding(able, capacity, steady, allowed.day_mg_l, rates, _first(site, bars))


def holds(bar: Bar, at: datetime) -> bool:
    """Whether a bar still holds then."""
    return bar.until is None or at < bar.until


def standing_bars(site: Site, standing: Standing, bars: tuple[Bar, ...]) -> tuple[Bar, ...]:
    """With what people have set: a stop holds from its entry on, whether or not anything was judged since."""
    held = [why for why in (standing.stop, standing.service) if why is not None]
    return (*(Bar(feeder.id, why.code, why) for why in held for feeder in site.feeders), *bars)


def _first(site: Site, bars: tuple[Bar, ...]) -> tuple[Bar, ...]:
    """For each feeder what to say of it: the first that bars it, else of a chlorine feeder its rates as they come to bind."""
    found: list[Bar] = []
    for feeder in site.feeders:
        mine = [bar for bar in bars if bar.feeder == feeder.id]
        shut = next((bar for bar in mine if bar.rate_mg_l_day is None), None)
        rates = [bar for bar in mine if bar.rate_mg_l_day is not None and feeder.substance is Substance.CHLORINE]
        if shut is not None:
            found.append(shut)
        else:
            found += _in_turn(rates)
    return tuple(found)


def _in_turn(rates: list[Bar]) -> list[Bar]:
    """The tightest rate, and of the others those that still hold when all tighter ones have ended."""
    found: list[Bar] = []
    for bar in sorted(rates, key=lambda bar: (bar.rate_mg_l_day or 0.0, bar.until is not None)):
        last = found[-1].until if found else None
        if not found or (last is not None and holds(bar, last)):
            found.append(bar)
    return found


def with_record(
    allowed: tuple[float, float], site: Site, standing: Standing, bars: tuple[Bar, ...], ledger: Ledger,
    tests: tuple[WaterTest, ...], clock_s: float, unreached_share: float = 0.0,
) -> Allowed:  # fmt: skip
    """The limits (mg/L a day, mg/L an hour) together with what the record knows of the last day, of tests, bars and containers.

    unreached_share : of a container with a level, what its feeder does not get
    """
    ago = [ledger.window_g(Substance.CHLORINE, clock_s, h * HOUR_S) / site.pool.volume_m3 for h in range(24)]
    later_s = None
    if standing.fallback_since_s is not None and any(bar.why.code.endswith(SUFFIX) for bar in bars):
        taken = [t.taken_s for t in tests if t.quantity is Quantity.FREE_CHLORINE and not t.withdrawn]
        ends = [standing.fallback_since_s + FIRST_DAYS * DAY_S, *(taken_s + TEST_DAYS * DAY_S for taken_s in taken)]
        later_s = max(0.0, max(ends) - clock_s)
    usual = max(LEAST_USUAL_MG_L, usual_of(dict(standing.daily_use_mg_l).get(Substance.CHLORINE, ())))
    fed = tuple(ago[h] - ago[h - 1] for h in range(23, 0, -1))
    left = usable_mg_l(site, standing, ledger, clock_s, unreached_share)
    return Allowed(*allowed, bars, fed, later_s, LATER_SHARE * usual, left)


def under_cover(allowed: Allowed, site: Site, share: float) -> Allowed:
    """With a cell's hour bounded as the guard of the cover bounds it, to a `share` of its output, where that holds."""
    day = next((bar.rate_mg_l_day for bar in allowed.bars if bar.guard == cover_closed.CODE), None)
    if day is None:
        return allowed
    hours = [(feeder, capacity_mg_l_h(site, (feeder,))) for feeder in site.feeding(Substance.CHLORINE)]
    least = day / cover_closed.SPREAD_H
    most = sum(min(full, max(share * full, least)) if site.feeder(one).kind == "cell" else full for one, full in hours)
    return replace(allowed, hour_mg_l=min(allowed.hour_mg_l, most))


def capacity_mg_l_h(site: Site, able: tuple[FeederId, ...] | None = None) -> float:
    """What all chlorine feeders, or those of them that are able, give together by their settings. [mg/L/h]"""
    rate_g_s = sum(f.rate_g_s for f in site.feeders if f.substance is Substance.CHLORINE and (able is None or f.id in able))
    return rate_g_s * HOUR_S / site.pool.volume_m3


def within(control: ControlParams, allowed: Allowed) -> ControlParams:
    """Control's feeds as the interlocks let them be: no larger than one may be, and with the wait that they ask for."""
    most_mg_l, rest_s = min(control.pump_pulse_mg_l_max, allowed.single_mg_l), max(control.pump_rest_s, allowed.mixing_s)
    return replace(control, pump_pulse_mg_l_max=most_mg_l, pump_rest_s=rest_s)


def lasting_mg_l_h(site: Site, control: ControlParams, able: tuple[FeederId, ...] | None = None) -> float:
    """What they give together hour after hour, the waits counted that a pump takes between its feeds. [mg/L/h]"""
    chlorine = (f for f in site.feeders if f.substance is Substance.CHLORINE and (able is None or f.id in able))
    return sum(steady_g_s(control, f, site.pool.volume_m3) for f in chlorine) * HOUR_S / site.pool.volume_m3


def uv_at(pool: Pool, utc: datetime) -> float:
    """Clear-sky light as a share of overhead sun."""
    return clear_sky_uv(sun_elevation_deg(utc, pool.latitude_deg, pool.longitude_deg))
