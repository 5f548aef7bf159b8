"""Is this message in order? What is retained, repeated, late, stale, from the future or too frequent never becomes a reading."""

from dataclasses import replace

from dosectl.core.probes.memory import Track, Trouble
from dosectl.core.probes.params import ProbeParams
from dosectl.core.site import Signal
from dosectl.model.instant import Instant
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import Sample

RETAINED = Code("message.retained")
REPEATED = Code("message.repeated")
LATE = Code("message.late")
STALE = Code("message.stale")
FUTURE = Code("message.future")
FLOOD = Code("message.flood")
STRANGER = Code("message.unknown_signal")
NOT_FINITE = Code("payload.not_a_number")

DOUBT = ReasonKind(
    Code("message.doubt"),
    "Wrong messages keep coming for {signal} since {since} ({count} in {window_s} s, last: {last}): nothing of it is believed "
    "until they stop. Look for a second publisher, a bridge that repeats, or a source with a wrong clock.",
)

# A source that restarts counts from the beginning again; one that is merely reordered is never this far behind.
REORDER_MAX = 16
# Messages are counted over so many expected periods, so that a burst after a short network stall passes.
BURST_PERIODS = 10.0
OFTEN_S = 10.0  # a forecast each minute where one in ten was expected is no runaway: no period counts as longer than a probe's


def refusal(sample: Sample, track: Track, signal: Signal, params: ProbeParams) -> Code | None:
    """Why the message is refused by its own marks, None where it is in order."""
    if sample.retained:
        return RETAINED
    sent = sample.source_utc
    if sent is not None:
        behind_s = (sample.arrived_at.utc - sent).total_seconds()
        if behind_s > signal.age_s_max:
            return STALE
        if behind_s < -params.future_s_max:
            return FUTURE
    newer = sent is not None and track.source_utc is not None and sent > track.source_utc
    if sample.source_seq is not None and track.seq is not None:
        return None if newer else _by_sequence(sample.source_seq, track.seq)
    if sent is None or track.source_utc is None or newer:
        return None
    if sent < track.source_utc:
        return LATE
    # Stamps of whole seconds: a change within the second is news (it may be the loss of flow), the same value is a repeat.
    return REPEATED if sample.raw == track.raw else None


def _by_sequence(seq: int, last: int) -> Code | None:
    if seq == last:
        return REPEATED
    if last - REORDER_MAX <= seq < last:
        return LATE
    return None


def burst_s(signal: Signal) -> float:
    """The window over which a signal's messages are counted. [s]"""
    return BURST_PERIODS * min(OFTEN_S, signal.period_s)


def is_flood(sample: Sample, track: Track, signal: Signal, params: ProbeParams) -> bool:
    """Within its burst window, more than `rate_factor_max` times the expected rate, or a probe's where less is expected.

    A switch's change is never refused: it may take away a permission.
    """
    if track.burst_count < BURST_PERIODS * params.rate_factor_max:
        return False
    return sample.raw == track.raw or not (isinstance(sample.raw, bool) or signal.threshold is not None)


def after_drop(trouble: Trouble, params: ProbeParams, signal: Signal, why: Code, at_s: float, now: Instant) -> Trouble:
    """The signal's trouble with one refused message more."""
    recent = (*(t for t in trouble.drops_s if at_s - t <= params.doubt_s), at_s)[-params.doubtful_messages :]
    in_doubt = trouble.doubt_until_s is not None and at_s < trouble.doubt_until_s
    if len(recent) < params.doubtful_messages and not in_doubt:
        return replace(trouble, drops_s=recent)
    doubt = trouble.doubt if in_doubt else None
    if doubt is None:
        doubt = DOUBT.because(now, signal=str(signal.id), count=len(recent), window_s=params.doubt_s, last=str(why))
    return replace(trouble, drops_s=recent, doubt_until_s=at_s + params.doubt_s, doubt=doubt)
