"""Whether feeders and pump hours carry the pool through high summer: by the day, and through the longest rest of the pump.

What is fed must last until water flows again. A pool whose pump runs by night alone may be given all that a day takes, and stand
empty in the afternoon.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from math import exp, floor, log, sqrt

from dosectl.chemistry import decay
from dosectl.core.advice.feeding import Allowed, lasting_mg_l_h, uv_at, within
from dosectl.core.control.demand import DIP_SHARE_MAX, MIDDLE, RISE_SHARE_MAX, USABLE_SHARE
from dosectl.core.control.habit import HOURS, FlowHabit
from dosectl.core.control.params import ControlParams
from dosectl.core.control.target import BAND_LOW, target_mg_l
from dosectl.core.estimate.chlorine import Spell, demand_mg_l_day, predict
from dosectl.core.estimate.filters import rows_of
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import CHLORINE, DEMAND, EFFECT, SUN, Estimate
from dosectl.core.estimate.view import water
from dosectl.core.product import cold_share, mean_share
from dosectl.core.site import Pool, Site
from dosectl.model.feeds import Substance

__all__ = ["HOT_C", "TEMP_C_MAX", "TEMP_C_MIN", "Enough", "Rest", "enough"]

Z90 = 1.6449
TEMP_C_MIN, TEMP_C_MAX = 5.0, 40.0
HOT_C = 29.0  # water of a hot July; a pool evaporates what would warm it further
LARGER_GIVES = 1.1  # times what is there: a larger feeder that the hour's limit holds below it is no help; own judgement
BY_DAY = 0.5  # of the day's light falls into a rest: then hours by day help, else any that part the rest


@dataclass(frozen=True, slots=True)
class Rest:
    """The stretch without flow that takes most of the chlorine.

    from_utc, hours : when, on the day that is reckoned with; hours 0: water flows all day
    begins_mg_l : free chlorine as control leaves it for this rest; goes_mg_l : of it, by its end
    light_share : of the day's light, what falls into it
    """

    from_utc: datetime
    hours: float
    begins_mg_l: float
    goes_mg_l: float
    light_share: float

    @property
    def left_mg_l(self) -> float:
        """Free chlorine at its end."""
        return self.begins_mg_l - self.goes_mg_l

    @property
    def by_day(self) -> bool:
        """Whether most of the day's sun falls into it."""
        return self.light_share >= BY_DAY


@dataclass(frozen=True, slots=True)
class Enough:
    """A clear, hot July day of this pool against what its feeders can give in its hours of flow.

    loss_mg_l, loss_low_mg_l, loss_high_mg_l : of the day at the target, with 90 % bounds
    gives_mg_l, gives_low_mg_l, gives_high_mg_l : the feeders in a day's flow, likewise
    rest : the pause that takes most; band_low_mg_l : what it should leave at least
    hours_needed : of flow, for the loss as expected, without end where nothing is given; limit_mg_l : what the interlock lets be
        fed in a day; hour_limited : its limit of an hour holds the feeders, or would soon, not their size
    """

    target_mg_l: float
    temp_c: float
    flow_h: float
    loss_mg_l: float
    loss_low_mg_l: float
    loss_high_mg_l: float
    gives_mg_l: float
    gives_low_mg_l: float
    gives_high_mg_l: float
    rest: Rest
    band_low_mg_l: float
    hours_needed: float
    limit_mg_l: float
    hour_limited: bool = False

    @property
    def lasts(self) -> bool:
        """Whether the chlorine outlasts the longest rest, within its band."""
        return self.rest.left_mg_l >= self.band_low_mg_l

    @property
    def verdict(self) -> str:
        """ "enough", "may not be enough" (within the doubt) or "not enough"."""
        most = min(self.limit_mg_l, self.gives_mg_l)
        if most < self.loss_mg_l or not self.lasts:
            return "not enough"
        return "enough" if min(self.limit_mg_l, self.gives_low_mg_l) >= self.loss_high_mg_l else "may not be enough"


def enough(
    site: Site,
    params: EstimateParams,
    control: ControlParams,
    estimate: Estimate,
    habit: FlowHabit,
    utc: datetime,
    allowed: Allowed,
    temp_c: float = HOT_C,
    flow_h: float | None = None,
) -> Enough:
    """Whether the feeders carry this pool through high summer.

    utc : now, for the year and for the hours of flow as learnt
    flow_h : hours of flow a day, about the middle of those in which water usually flows; None takes the usual ones

    Raises ValueError for a temperature outside 5 to 40 C or hours outside 0 to 24.
    """
    if not TEMP_C_MIN <= temp_c <= TEMP_C_MAX:
        raise ValueError(f"temperature = {temp_c:g} °C: accepted is {TEMP_C_MIN:g} to {TEMP_C_MAX:g}")
    hours = habit.daily_h if flow_h is None else flow_h
    if not 0.0 < hours <= 24.0:
        raise ValueError(f"hours of flow = {hours:g}: accepted is more than 0 and at most 24")
    pool = site.pool
    month = 7 if pool.latitude_deg >= 0.0 else 1
    day = datetime(utc.year, month, 15, tzinfo=UTC)
    light = tuple(uv_at(pool, day + timedelta(hours=h + 0.5)) for h in range(HOURS))
    goal = target_mg_l(site, control, water(site, estimate, params))
    mean = list(estimate.mean)
    mean[CHLORINE] = log(goal)
    there = replace(estimate, mean=tuple(mean), temp_c=temp_c, sun_day_h=sum(light))
    demand = demand_mg_l_day(mean, temp_c)
    sun = water(site, there, params).sun_loss_mg_l_day
    p = rows_of(estimate.cov)
    lasting = lasting_mg_l_h(site, within(control, allowed))
    arrives = exp(mean[EFFECT]) * mean_share(site, site.feeding(Substance.CHLORINE), lambda feeder: cold_share(feeder, temp_c))
    gives = min(lasting, allowed.hour_mg_l) * USABLE_SHARE * hours * arrives
    doubt = sqrt(p[EFFECT][EFFECT])
    loss = demand + sun
    spread = sqrt(demand * demand * p[DEMAND][DEMAND] + sun * sun * p[SUN][SUN] + 2 * demand * sun * p[DEMAND][SUN]) / loss
    flows = tuple(share > 0.0 for share in habit.expected(utc))
    pauses: Sequence[tuple[float, float]] = _rests(flows) if flow_h is None else _about(flows, flow_h, pool)
    through = _Summer(site, params, control, there, light)
    rests = [_rest(through, goal, day, begin, length) for begin, length in pauses]
    return Enough(
        target_mg_l=goal,
        temp_c=temp_c,
        flow_h=hours,
        loss_mg_l=loss,
        loss_low_mg_l=loss * exp(-Z90 * spread),
        loss_high_mg_l=loss * exp(Z90 * spread),
        gives_mg_l=gives,
        gives_low_mg_l=gives * exp(-Z90 * doubt),
        gives_high_mg_l=gives * exp(Z90 * doubt),
        rest=max(rests, key=lambda rest: rest.goes_mg_l, default=Rest(day, 0, MIDDLE * goal, 0.0, 0.0)),
        band_low_mg_l=BAND_LOW * goal,
        hours_needed=hours * loss / gives if gives > 0.0 else float("inf"),
        limit_mg_l=allowed.day_mg_l,
        hour_limited=allowed.hour_mg_l < LARGER_GIVES * lasting,
    )


@dataclass(frozen=True, slots=True)
class _Summer:
    """The water of that day. light : of each UTC hour"""

    site: Site
    params: EstimateParams
    control: ControlParams
    water: Estimate
    light: tuple[float, ...]

    def light_share(self, begin: float, length: float) -> float:
        """Of the day's light, what falls into these hours."""
        lit = sum(self.light[hour] * part for hour, part in _parts(begin, length))
        return lit / max(1e-9, sum(self.light))

    def left_mg_l(self, free_mg_l: float, begin: float, length: float) -> float:
        """Free chlorine after so many hours without feed."""
        mean, p = list(self.water.mean), rows_of(self.water.cov)
        mean[CHLORINE] = log(free_mg_l)
        depth_share = decay.depth_factor(self.site.pool.depth_m, self.params.light_attenuation_per_m)
        for hour, part in _parts(begin, length):
            spell = Spell(3600.0 * part, self.light[hour], 0.0, self.water.temp_c, self.control.ph_target)
            predict(mean, p, self.params, spell, depth_share)
        return exp(mean[CHLORINE])


def _rest(summer: _Summer, goal: float, day: datetime, begin: float, length: float) -> Rest:
    """A rest as control goes into it: raised before it by part of what it takes, as far as its band has room.

    Before a rest that takes most of the target control may rise above the band (`demand.plan`); that is no way to be enough.
    """
    goes = MIDDLE * goal - summer.left_mg_l(MIDDLE * goal, begin, length)
    raised = MIDDLE * goal + min(RISE_SHARE_MAX * goal, goes - min(0.5 * goes, DIP_SHARE_MAX * goal))
    goes = raised - summer.left_mg_l(raised, begin, length)
    return Rest(day + timedelta(hours=begin), length, raised, goes, summer.light_share(begin, length))


def _parts(begin: float, length: float) -> Iterator[tuple[int, float]]:
    """Each hour of the day that a stretch of hours touches, and which part of it."""
    at, end = begin, begin + length
    while end - at > 1e-9:
        until = min(end, floor(at + 1e-9) + 1.0)
        yield floor(at + 1e-9) % HOURS, until - at
        at = until


def _rests(flows: tuple[bool, ...]) -> list[tuple[int, int]]:
    """First hour and length of each stretch without flow, around midnight too."""
    if not any(flows):
        return [(0, HOURS)]
    begins = [hour for hour in range(HOURS) if not flows[hour] and flows[hour - 1]]
    return [(begin, next(n for n in range(1, HOURS + 1) if flows[(begin + n) % HOURS])) for begin in begins]


def _about(flows: tuple[bool, ...], flow_h: float, pool: Pool) -> list[tuple[float, float]]:
    """The rest that so many hours of flow leave, in one stretch about the middle of the longest usual one; else about noon."""
    # rests of what flows are the flows of what rests
    stretches = _rests(tuple(not flow for flow in flows)) if any(flows) and not all(flows) else []
    noon = 12.0 - pool.longitude_deg / 15.0
    middle = max(((length, begin + length / 2.0) for begin, length in stretches), default=(0, noon))[1]
    rest_h = HOURS - flow_h
    return [((middle + flow_h / 2.0) % HOURS, rest_h)] if rest_h > 0.0 else []
