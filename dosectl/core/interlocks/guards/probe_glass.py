"""A pH electrode whose glass is broken reads near 7 in any water: a fall to there that no acid explains is no fall of the pool's.

A glass electrode gives 0 mV at pH 7 (common practice: its isopotential point), and so it does cracked, shorted or with water in
its plug, in any water. 7.0 is a plausible pH, and the jump itself may come while nothing looks: at night, in a start's hold, or
smaller than what a step within a minute is caught by.
"""

from dataclasses import dataclass, replace
from typing import NamedTuple

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import deny, moment
from dosectl.core.interlocks.fallback import usual_mg_l_day
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.interlocks.poured import explained, near
from dosectl.core.interlocks.usage import DAY_S, room_g
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalId, SignalKind, Status
from dosectl.model.verdicts import Limit, Permit, Verdict
from dosectl.model.water_tests import Quantity

CODE = Code("probe.glass")
PERMIT = Permit(CODE)
NEUTRAL_PH = 7.0
SETTLED_S = 300.0
BLOCK_S = 300.0
VALUES_MIN = 5
PER_MG_L = 0.17  # pH per mg/L of acid; derived: twice the 0.082 that 80 mg/L of alkalinity shows, which 40 mg/L does
FALL_PER_H = 0.01  # pH/h; engineering judgement: what breathing algae and rain take in a night, twice over
MIXES_S = 3600.0  # common practice: acid fed so long before may still be mixing in
FALL_SPAN_H = 24.0  # a longer pause explains no more than a day of it
AGREES_PH = 0.3  # common practice: a home test of pH is no better

READS_SEVEN = ReasonKind(
    Code("glass.seven"),
    "The {signal} value went from {before} to {value} with no acid to explain it (noticed at {since}): an electrode with broken "
    "glass or a wet plug reads 7 in any water. Acid waits until it moves on or a test by hand agrees. Test pH by hand; look at "
    "the probe with the pump off.",
)
USUAL = ReasonKind(
    Code("glass.usual"),
    "The {signal} value reads 7 in any water, as it seems (noticed at {since}), and the ORP is read against it; chlorine is "
    "held to its usual {rate_mg_l_day} mg/L a day. Test pH by hand; look at the probe with the pump off.",
)


@dataclass(frozen=True, slots=True)
class ProbeGlassParams:
    fall_ph: float = setting(
        0.15, ge=0.1, le=0.5, unit="pH", why="engineering judgement: five times the noise of a mean, and a slug of acid passing"
    )
    near_ph: float = setting(0.1, ge=0.03, le=0.3, unit="pH", why="common practice: offset of an electrode in use")


class _Mean(NamedTuple):
    """Mean of five settled minutes, and the plant clock [s] at its end."""

    ph: float
    at_s: float


@dataclass(frozen=True, slots=True)
class ProbeGlass:
    """Means of five minutes of settled flow, each against the two before, whatever lay between: a block, a night, a restart.

    Two, for the jump may fall into the middle of a block. Memory: recent = (begin of the block [s], sum, count);
    marks = the means, oldest first; since_s, latched: none; count = 1 while it is doubted, marks then are those before the fall
    and the moment of the doubt.
    """

    feeders: tuple[FeederId, ...]
    acid: tuple[FeederId, ...]
    signal: SignalId
    chlorine: bool
    params: ProbeGlassParams
    code: Code = CODE
    permit: Permit = PERMIT
    needs: tuple[Need, ...] = ()

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        memory, mean = self._taken_in(evidence, memory)
        if mean is not None:
            memory = self._judged(evidence, memory, mean)
        if memory.count and self._told_right(evidence, memory):
            memory = replace(memory, count=0, marks=())
        if not memory.count:
            return self.permit, memory
        before_ph, value_ph, at_s = memory.marks
        if self.chlorine:
            return self._usual(evidence, at_s), memory
        why = READS_SEVEN.because(
            moment(evidence, at_s), signal=self.signal, before=round(before_ph, 2), value=round(value_ph, 2)
        )
        return deny(self.code, why), memory

    def _usual(self, evidence: Evidence, at_s: float) -> Limit:
        """The ORP still reads, and asks for more against a pH that is too low: usual use bounds that. The blind rate would leave
        the pool short, though its chlorine is not in doubt."""
        rate = usual_mg_l_day(evidence)
        why = USUAL.because(moment(evidence, at_s), signal=self.signal, rate_mg_l_day=round(rate, 2))
        return Limit(self.code, room_g(evidence, Substance.CHLORINE, DAY_S, rate), why)

    def _taken_in(self, evidence: Evidence, memory: Memory) -> tuple[Memory, _Mean | None]:
        since_s = evidence.flow.since_s
        reading = evidence.readings.get(self.signal)
        value = None if reading is None else reading.number(Status.MAINTENANCE)
        if value is None or since_s is None or evidence.clock_s - since_s < SETTLED_S:
            return (replace(memory, recent=()) if memory.recent else memory), None
        clock_s = evidence.clock_s
        if not memory.recent:
            return replace(memory, recent=(clock_s, value, 1.0)), None
        began_s, total, count = memory.recent
        if clock_s - began_s < BLOCK_S or count + 1.0 < VALUES_MIN:
            return replace(memory, recent=(began_s, total + value, count + 1.0)), None
        mean = _Mean((total + value) / (count + 1.0), clock_s)
        return replace(memory, recent=()), mean

    def _judged(self, evidence: Evidence, memory: Memory, mean: _Mean) -> Memory:
        if memory.count:
            moved = abs(mean.ph - memory.marks[1]) > self.params.near_ph
            return replace(memory, count=0, marks=tuple(mean)) if moved else memory
        for start in range(0, len(memory.marks), 2):
            before = _Mean(*memory.marks[start : start + 2])
            if abs(mean.ph - NEUTRAL_PH) <= self.params.near_ph and before.ph - mean.ph > self._may_fall(evidence, before, mean):
                return replace(memory, count=1, marks=(before.ph, mean.ph, mean.at_s))
        return replace(memory, marks=(*memory.marks[-2:], *mean))

    def _may_fall(self, evidence: Evidence, before: _Mean, mean: _Mean) -> float:
        passed_s = mean.at_s - before.at_s
        hours = min(FALL_SPAN_H, passed_s / 3600.0)
        grams = sum(evidence.ledger.of(feeder).window_g(mean.at_s, passed_s + MIXES_S) for feeder in self.acid)
        acid = PER_MG_L * grams / evidence.site.pool.volume_m3
        by_hand = 0.0
        if evidence.standing.poured:
            entries = near(evidence, before.at_s, mean.at_s)
            by_hand = explained(evidence, SignalKind.PH, entries, NEUTRAL_PH - before.ph, before.ph)
        return self.params.fall_ph + FALL_PER_H * hours + acid + by_hand

    def _told_right(self, evidence: Evidence, memory: Memory) -> bool:
        """A test by hand that agrees, or a calibration, since the doubt began."""
        _, value_ph, at_s = memory.marks
        test = evidence.newest_test(Quantity.PH)
        if test is not None and test.taken_s >= at_s and abs(test.value - value_ph) <= AGREES_PH:
            return True
        return any(probe == self.signal and done_s >= at_s for probe, done_s in evidence.standing.calibrated)


def _build(site: Site, params: ProbeGlassParams) -> tuple[ProbeGlass, ...]:
    ph, acid = site.first(SignalKind.PH), site.feeding(Substance.ACID)
    if ph is None:
        return ()
    groups = ((site.feeding(Substance.CHLORINE), True), (acid, False))
    return tuple(ProbeGlass(feeders, acid, ph.id, chlorine, params) for feeders, chlorine in groups if feeders)


KIND = GuardKind(
    CODE, ProbeGlassParams, _build, (READS_SEVEN, USUAL),
    stops="acid; holds chlorine to its usual use",
    clears="by itself once the reading moves on, or with a pH test that agrees, or a calibration",
    why="a broken electrode reads a pH that is plausible, and hides from every check of range",
)  # fmt: skip
