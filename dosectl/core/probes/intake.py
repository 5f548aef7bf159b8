"""Samples of one step -> readings: messages judged for order, values for plausibility, readings for age."""

from dataclasses import dataclass, replace
from math import isfinite

from dosectl.core.probes.memory import NEVER, Layout, ProbeMemory, Rule, Track
from dosectl.core.probes.messages import DOUBT, FLOOD, NOT_FINITE, STALE, STRANGER, after_drop, burst_s, is_flood, refusal
from dosectl.core.probes.params import ProbeParams
from dosectl.core.probes.registry import KINDS, kind_of
from dosectl.core.probes.values import FLAT, PROVING, judge, keep
from dosectl.core.site import Site
from dosectl.model.instant import Instant
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import Drop, Reading, Sample, SignalId, Status
from dosectl.model.snapshot import Snapshot

SILENT = ReasonKind(
    Code("signal.silent"),
    "{signal} has sent nothing since the start at {since}. Check its power, its topic and its account on the broker.",
)
AGED = ReasonKind(
    Code("signal.aged"),
    "{signal} has been silent for more than {limit_s} s since {since}; its last value is not used any more. "
    "Check its power and its network.",
)

REASONS: tuple[ReasonKind, ...] = (SILENT, AGED, DOUBT, PROVING, FLAT, *(reason for kind in KINDS for reason in kind.reasons))


@dataclass(frozen=True, slots=True)
class Judged:
    """What the samples of a step are worth.

    readings : one for each signal of the site
    samples : accepted, in order; of a meter with a threshold `raw` is the switch state, False where it was not believable
    drops : the snapshot's and our own
    """

    readings: dict[SignalId, Reading]
    samples: tuple[Sample, ...]
    drops: tuple[Drop, ...]
    memory: ProbeMemory


def update(site: Site, params: ProbeParams, memory: ProbeMemory, snapshot: Snapshot, clock_s: float) -> Judged:
    """Judges all samples of a step.

    Parameters
    ----------
    memory : of the step before; `ProbeMemory()` at the start: then every signal is UNKNOWN until it speaks
    clock_s : plant clock now [s]
    """
    now = snapshot.now
    layout, tracks, readings = _opened(site, memory, now)
    check_at_s = memory.check_at_s
    accepted: list[Sample] = []
    dropped: list[Drop] = []
    for sample in snapshot.samples:
        rule = layout.rules.get(sample.signal)
        if rule is None:
            dropped.append(_drop(sample, STRANGER, now))
            continue
        track = tracks[sample.signal]
        waited_s = now.mono_s - sample.arrived_at.mono_s
        at_s = clock_s - waited_s if waited_s > 0.0 else clock_s
        why = _refused(sample, track, rule, params, at_s, now)
        if why is not None:
            dropped.append(_drop(sample, why, now))
            continue
        expires_s = at_s + rule.signal.age_s_max
        if sample.source_utc is not None:
            # Time on the way counts: a value is never believed longer after it was measured than its limit.
            expires_s -= max((sample.arrived_at.utc - sample.source_utc).total_seconds(), 0.0)
        previous = readings[sample.signal]
        track, reading = judge(rule, params, track, previous, sample, at_s, expires_s, now)
        tracks[sample.signal] = track
        readings[sample.signal] = reading
        if expires_s < check_at_s:
            check_at_s = expires_s
        if rule.signal.threshold is not None and not isinstance(sample.raw, bool):
            sample = Sample(
                sample.signal, bool(track.on), sample.arrived_at, sample.source_utc, sample.source_seq, sample.retained
            )
        accepted.append(sample)
    drops = snapshot.drops
    if dropped:
        drops = (*drops, *dropped)
    for drop in drops:
        _count_drop(drop, layout, params, tracks, readings, clock_s, now)
    if clock_s >= check_at_s:
        check_at_s = _expire(layout, tracks, readings, clock_s, now)
    return Judged(readings, tuple(accepted), drops, ProbeMemory(layout, tracks, readings, check_at_s))


def _opened(site: Site, memory: ProbeMemory, now: Instant) -> tuple[Layout, dict[SignalId, Track], dict[SignalId, Reading]]:
    """Own copies of what is remembered; made new where the site is another one."""
    if memory.layout is not None and memory.layout.site is site and memory.tracks is not None and memory.readings is not None:
        return memory.layout, dict(memory.tracks), dict(memory.readings)
    rules = {signal.id: Rule(signal, kind_of(signal.kind), burst_s(signal)) for signal in site.signals}
    readings = {
        signal: Reading(signal, Status.UNKNOWN, None, None, None, None, SILENT.because(now, signal=str(signal)))
        for signal in rules
    }
    return Layout(site, rules), dict.fromkeys(rules, NEVER), readings


def _refused(sample: Sample, track: Track, rule: Rule, params: ProbeParams, at_s: float, now: Instant) -> Code | None:
    if sample.retained or sample.source_seq is not None or sample.source_utc is not None:
        why = refusal(sample, track, rule.signal, params)
        if why is not None:
            return why
    if not isfinite(sample.raw):
        return NOT_FINITE
    if sample.arrived_at.boot != now.boot:
        return STALE
    # Asked here first, for nearly every message is alone in its window.
    if at_s - track.burst_from_s <= rule.burst_s and is_flood(sample, track, rule.signal, params):
        return FLOOD
    return None


def _drop(sample: Sample, why: Code, now: Instant) -> Drop:
    return Drop(sample.signal, why, now, str(sample.raw)[:60])


def _count_drop(
    drop: Drop,
    layout: Layout,
    params: ProbeParams,
    tracks: dict[SignalId, Track],
    readings: dict[SignalId, Reading],
    clock_s: float,
    now: Instant,
) -> None:
    rule = layout.rules.get(drop.signal)
    if rule is None:
        return
    track = tracks[drop.signal]
    trouble = after_drop(track.trouble, params, rule.signal, drop.why, clock_s, now)
    tracks[drop.signal] = track._replace(trouble=trouble)
    if trouble.doubt is not None:
        last = readings[drop.signal]
        readings[drop.signal] = replace(last, status=Status.UNKNOWN, value=None, sigma=None, why=trouble.doubt)


def _expire(
    layout: Layout, tracks: dict[SignalId, Track], readings: dict[SignalId, Reading], clock_s: float, now: Instant
) -> float:
    """Turns what is too old to UNKNOWN; returns the plant clock before which nothing more can become so."""
    next_s = float("inf")
    for signal_id, track in tracks.items():
        if track.trouble.lost or track.expires_s == float("inf"):
            continue
        if clock_s <= track.expires_s:
            next_s = min(next_s, track.expires_s)
            continue
        last = readings[signal_id]
        limit_s = layout.rules[signal_id].signal.age_s_max
        why = keep(AGED, last, now, signal=str(signal_id), limit_s=limit_s)
        readings[signal_id] = Reading(signal_id, Status.UNKNOWN, None, last.raw, None, last.at_s, why)
        tracks[signal_id] = track._replace(trouble=replace(track.trouble, lost=True))
    return next_s
