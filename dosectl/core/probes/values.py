"""Is this value believable? Calibration, range, step, liveness and proving; a sample becomes a reading with a status."""

from dosectl.core.evidence import REPEATS
from dosectl.core.probes.kind import ProbeKind
from dosectl.core.probes.memory import CLEAN, Rule, Track, Trouble
from dosectl.core.probes.params import ProbeParams
from dosectl.model.instant import Instant
from dosectl.model.reasons import Code, Fact, Reason, ReasonKind
from dosectl.model.signals import Reading, Sample, Status

DAY_S = 86400.0
HYSTERESIS = 0.05
# The step window is kept in so many thinned entries at most; a finer record would find no larger step.
THINNING = 12.0

PROVING = ReasonKind(
    Code("probe.proving"),
    "{signal} was wrong or silent and reads well again since {since}; it is believed after {needed_s} s of good readings.",
)
FLAT = ReasonKind(
    REPEATS,
    "{signal} has repeated exactly the same value ({value}) for {hours} h, noticed at {since}. It may be frozen: "
    "test the water by hand, or move the probe in a buffer, taken out with the pump off.",
)


def keep(kind: ReasonKind, previous: Reading | None, now: Instant, **facts: Fact) -> Reason:
    """The reason the reading already has where it is of the same kind, so that `since` stays; else a new one."""
    if previous is not None and previous.why is not None and previous.why.code == kind.code:
        return previous.why
    return kind.because(now, **facts)


def switched(rule: Rule, track: Track, raw: float) -> bool | None:
    """Switch state of a meter with a threshold, with hysteresis; None where the value is not believable.

    In the hysteresis the safe state of the kind wins: a flow must clear the threshold well to count, a feeder to stop counting.
    """
    signal, kind, _ = rule
    value = signal.offset + signal.slope * raw
    threshold = signal.threshold
    if threshold is None or not kind.low <= value <= kind.high:
        return None
    if kind.safe_on:
        return value > threshold * (1.0 - HYSTERESIS if track.on else 1.0)
    return value > threshold * (1.0 if track.on in (True, None) else 1.0 + HYSTERESIS)


def judge(
    rule: Rule,
    params: ProbeParams,
    track: Track,
    previous: Reading | None,
    sample: Sample,
    at_s: float,
    expires_s: float,
    now: Instant,
) -> tuple[Track, Reading]:
    """The reading that an accepted sample makes, and the signal's course after it."""
    signal, kind, burst_s = rule
    raw = sample.raw
    trouble = track.trouble
    recents = track.recents
    on: bool | None = None
    value: float | bool
    fault: Reason | None = None
    if isinstance(raw, bool):
        value = raw
        if not kind.switch:
            fault = _outside(kind, previous, now, raw)
    elif signal.threshold is not None:
        on = switched(rule, track, raw)
        value = bool(on)
        if on is None:
            fault = _outside(kind, previous, now, raw)
    else:
        value = signal.offset + signal.slope * raw
        if not kind.number or not kind.low <= value <= kind.high:
            fault = _outside(kind, previous, now, value)
        elif kind.step_max is not None:
            recents, fault = _stepped(rule, params, recents, previous, value, at_s, now)
    changed_s = at_s if raw != track.raw else track.changed_s
    if fault is None and trouble is CLEAN:
        if isinstance(value, bool):
            reading = Reading(signal.id, Status.GOOD, value, raw, None, at_s)
        else:
            reading = _usable(rule, params, previous, value, raw, at_s, changed_s, now)
    else:
        trouble, verdict = _troubled(rule, params, trouble, previous, fault, at_s, now)
        if verdict is None:
            reading = _usable(rule, params, previous, value, raw, at_s, changed_s, now)
        else:
            reading = Reading(signal.id, verdict[0], None, raw, None, at_s, verdict[1])
    if at_s - track.burst_from_s > burst_s:
        burst_from_s, burst_count = at_s, 1
    else:
        burst_from_s, burst_count = track.burst_from_s, track.burst_count + 1
    seq = sample.source_seq if sample.source_seq is not None else track.seq
    sent = sample.source_utc if sample.source_utc is not None else track.source_utc
    return Track(raw, expires_s, seq, sent, changed_s, recents, burst_from_s, burst_count, on, trouble), reading


def _stepped(
    rule: Rule,
    params: ProbeParams,
    recents: tuple[tuple[float, float], ...],
    previous: Reading | None,
    value: float,
    at_s: float,
    now: Instant,
) -> tuple[tuple[tuple[float, float], ...], Reason | None]:
    """The step window with the value in it, and the fault where it jumped."""
    if recents and at_s - recents[0][0] > params.step_window_s:
        recents = tuple(entry for entry in recents if at_s - entry[0] <= params.step_window_s)
    step_max = rule.kind.step_max or 0.0
    for _, before in recents:
        if not -step_max <= value - before <= step_max:
            # From here on the new level is what later values are compared with.
            return ((at_s, value),), _jumped(rule.kind, previous, now, before, value, params.step_window_s)
    if recents and at_s - recents[-1][0] < params.step_window_s / THINNING:
        return recents, None
    return (*recents, (at_s, value)), None


def _usable(
    rule: Rule,
    params: ProbeParams,
    previous: Reading | None,
    value: float | bool,
    raw: float | bool,
    at_s: float,
    changed_s: float,
    now: Instant,
) -> Reading:
    signal, kind, _ = rule
    if isinstance(value, bool):
        return Reading(signal.id, Status.GOOD, value, raw, None, at_s)
    if (kind.spec_high is not None and value > kind.spec_high) or (kind.spec_low is not None and value < kind.spec_low):
        odd = keep(kind.odd or kind.outside, previous, now, value=value, low=kind.low, high=kind.high)
        return Reading(signal.id, Status.OUT_OF_SPEC, value, raw, signal.sigma, at_s, odd)
    if kind.flat and at_s - changed_s > params.flat_s:
        why = keep(FLAT, previous, now, signal=str(signal.id), value=value, hours=params.flat_s / 3600.0)
        return Reading(signal.id, Status.MAINTENANCE, value, raw, signal.sigma, at_s, why)
    return Reading(signal.id, Status.GOOD, value, raw, signal.sigma, at_s)


def _troubled(
    rule: Rule, params: ProbeParams, trouble: Trouble, previous: Reading | None, fault: Reason | None, at_s: float, now: Instant
) -> tuple[Trouble, tuple[Status, Reason] | None]:
    """The trouble after this sample, and the status it forces, if any."""
    signal, kind, _ = rule
    prove_until_s = trouble.prove_until_s
    faults_s = tuple(t for t in trouble.faults_s if at_s - t < DAY_S)
    if kind.proves and fault is not None:
        if prove_until_s is None or at_s >= prove_until_s:
            faults_s = (*faults_s, at_s)
        # Only faults of the probe itself lengthen the proving: lost messages have a doubt and an alarm of their own.
        long = len(faults_s) >= params.faults_a_day_max
        prove_until_s = at_s + (params.prove_long_s if long else params.prove_s)
    elif kind.proves and trouble.lost:
        prove_until_s = max(at_s + params.prove_s, prove_until_s or at_s)
    in_doubt = trouble.doubt_until_s is not None and at_s < trouble.doubt_until_s
    proving = prove_until_s is not None and at_s < prove_until_s
    drops_s = tuple(t for t in trouble.drops_s if at_s - t <= params.doubt_s)
    after = Trouble(
        prove_until_s if proving else None,
        False,
        faults_s,
        drops_s,
        trouble.doubt_until_s if in_doubt else None,
        trouble.doubt if in_doubt else None,
    )
    if after == CLEAN:
        after = CLEAN
    if in_doubt and trouble.doubt is not None:
        return after, (Status.UNKNOWN, trouble.doubt)
    if fault is not None:
        return after, (Status.FAILURE, fault)
    if proving and prove_until_s is not None:
        needed_s = params.prove_long_s if len(faults_s) >= params.faults_a_day_max else params.prove_s
        return after, (Status.FAILURE, keep(PROVING, previous, now, signal=str(signal.id), needed_s=needed_s))
    return after, None


def _outside(kind: ProbeKind, previous: Reading | None, now: Instant, value: Fact) -> Reason:
    return keep(kind.outside, previous, now, value=value, low=kind.low, high=kind.high)


def _jumped(kind: ProbeKind, previous: Reading | None, now: Instant, before: float, value: float, window_s: float) -> Reason:
    return keep(
        kind.jumped or kind.outside, previous, now, before=before, value=value, window_s=window_s, low=kind.low, high=kind.high
    )
