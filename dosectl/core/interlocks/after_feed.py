"""What a probe shows an hour of flow after a feed, against what it showed before: the response that some guards wait for.

A feed that the next one follows, or the end of the flow, is judged then, if 25 minutes have passed. Where a guard allows for
pauses the hour goes on in the pump's next run: on an hourly timer none is that long, and what an electrode that lags or water
that mixes slowly has shown by the end of such a run is half of what was fed or less. Values are smoothed over five minutes and
held while a feed runs, so that the value before a feed is that of the water before it.
`recent` = (time of the last value [s], smoothed value, fed in all [g], value before, time of that [s], flow time at the feed's
end [s], mass of it [mg/L]); a mass of zero means that no feed is being followed.
"""

import math
from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.guard import Memory
from dosectl.model.feeds import FeederId
from dosectl.model.signals import SignalId, Status

SETTLED_S = 300.0
SMOOTH_S = 300.0
SEEN_FLOW_S = 3600.0
SEEN_FLOW_S_MIN = 1500.0  # a feed followed by the next one, or by the end of the flow, this soon is judged then
PAUSE_S = 7200.0  # common practice: a timer that runs a pump in turns rests no longer by day
SPOILT_S = 7200.0  # engineering judgement: what was poured in mixes and settles for so long


@dataclass(frozen=True, slots=True)
class Response:
    """Change of the smoothed value from before the feed, in the signal's unit, the mass fed [mg/L], the flow time since [h], and
    the smoothed value now.

    from_s, hours : plant clock [s] of the value before, and what has passed from then to the last value [h], pauses included
    cut : the flow ended before its hour was over, and no run followed soon
    """

    change: float
    mass_mg_l: float
    flow_h: float
    value: float
    from_s: float
    hours: float
    cut: bool = False


def spoilt(evidence: Evidence, response: Response) -> bool:
    """Whether something was put in by hand in these hours, or shortly before."""
    added_s = evidence.standing.added_s
    return added_s is not None and added_s > response.from_s - SPOILT_S


def followed(
    memory: Memory,
    evidence: Evidence,
    feeders: tuple[FeederId, ...],
    signal: SignalId,
    mass_mg_l_min: float,
    pause_s: float = 0.0,
) -> tuple[Memory, Response | None]:
    """The memory after this step, and the response of a feed whose hour is over. Without flow or reading nothing is followed.

    pause_s : a feed is followed on through a pause of the flow so long [s]
    """
    since_s = evidence.flow.since_s
    if since_s is None or evidence.clock_s - since_s < SETTLED_S:
        if not memory.recent or evidence.clock_s - memory.recent[0] <= pause_s:
            return memory, None
        return replace(memory, recent=()), _at_the_end(memory, evidence)
    reading = evidence.readings.get(signal)
    value = None if reading is None else reading.number(Status.MAINTENANCE)
    if reading is None or value is None or reading.at_s is None:
        return (replace(memory, recent=()) if memory.recent else memory), None
    for feeder in feeders:
        facts = evidence.feeders[feeder]
        if facts.asked_on or facts.running:
            return memory, None
    total_g = fed_g(evidence, feeders)
    old = bool(memory.recent) and memory.recent[0] >= reading.at_s
    if old and not memory.recent[6] and total_g - memory.recent[2] <= 1e-6:
        return memory, None
    return _taken_in(memory, evidence, total_g, reading.at_s, value, mass_mg_l_min)


def _at_the_end(memory: Memory, evidence: Evidence) -> Response | None:
    """What the feed that was followed has shown by the end of the flow."""
    mass, ended_flow_s = memory.recent[6], memory.recent[5]
    passed_s = evidence.flow.clock_s - ended_flow_s
    return _response(memory, passed_s, cut=passed_s < SEEN_FLOW_S) if mass > 0.0 and passed_s >= SEEN_FLOW_S_MIN else None


def _response(memory: Memory, passed_s: float, cut: bool = False) -> Response:
    at_s, smooth, _, before, from_s, _, mass = memory.recent
    return Response(smooth - before, mass, passed_s / 3600.0, smooth, from_s, (at_s - from_s) / 3600.0, cut)


def fed_g(evidence: Evidence, feeders: tuple[FeederId, ...]) -> float:
    """All that these feeders have fed since ever, of a feed that is still open what has surely been used. [g]"""
    grams = 0.0
    for feeder in feeders:
        book = evidence.ledger.of(feeder)
        grams += book.closed_g + (0.0 if book.open is None else book.open.used_g)
    return grams


def _taken_in(
    memory: Memory, evidence: Evidence, fed: float, value_at_s: float, value: float, mass_mg_l_min: float
) -> tuple[Memory, Response | None]:
    if not memory.recent:
        return replace(memory, recent=(value_at_s, value, fed, 0.0, 0.0, 0.0, 0.0)), None
    at_s, smooth, total, before, from_s, ended_flow_s, mass = memory.recent
    flow_s = evidence.flow.clock_s
    response: Response | None = None
    new_mass = (fed - total) / evidence.site.pool.volume_m3
    passed_s = flow_s - ended_flow_s
    if mass > 0.0 and (passed_s >= SEEN_FLOW_S or (new_mass > 1e-6 and passed_s >= SEEN_FLOW_S_MIN)):
        response = _response(memory, passed_s)
        mass = 0.0
    if new_mass > 1e-6:  # a feed has just ended; `smooth` is still the value before it
        before, from_s, ended_flow_s = smooth, at_s, flow_s
        mass = new_mass if new_mass >= mass_mg_l_min else 0.0
    if value_at_s > at_s:
        smooth += (value - smooth) * (1.0 - math.exp(-(value_at_s - at_s) / SMOOTH_S))
    return replace(memory, recent=(value_at_s, smooth, fed, before, from_s, ended_flow_s, mass)), response
