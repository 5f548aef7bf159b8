"""Probe validity: what a lost ORP or pH reading does to feeding. Doubt about chlorine falls back, doubt about pH stops acid.

An ORP or pH reading that can't be used must not end in a dead pool: chlorine goes on at the announced, bounded fall-back rate.
"""

from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import deny, moment
from dosectl.core.interlocks.fallback import fallback_limit
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalId, SignalKind, Status
from dosectl.model.verdicts import Permit, Verdict

CODE_ORP = Code("probe.orp")
CODE_PH = Code("probe.ph")
AGE_S_MAX = 180.0  # ceiling, whatever the plan allows the signal
DAY_S = 86400.0

STOPPED = ReasonKind(
    Code("probe.lost"),
    "The {signal} reading can't be used since {since} ({found}); acid waits until it has been good for a while. Check the "
    "probe, its cable "
    "and its plug.",
)
FALLBACK = ReasonKind(
    Code("probe.fallback"),
    "The {signal} reading can't be used since {since}; chlorine runs blind at {rate_mg_l_day} mg/L a day. Test by hand "
    "before anyone swims; "
    "check the probe, its cable and its plug.",
)


@dataclass(frozen=True, slots=True)
class ProbeValidityParams:
    proving_s: float = setting(
        300.0, ge=60.0, le=3600.0, unit="s", why="engineering judgement: a loose plug flickers within minutes"
    )
    repeat_s: float = setting(
        3600.0, ge=300.0, le=86400.0, unit="s", why="engineering judgement: a reading that keeps failing is broken"
    )
    repeats: int = setting(4, ge=2, le=20, unit="losses in 24 h", why="engineering judgement: more than an accident")


@dataclass(frozen=True, slots=True)
class ProbeValidity:
    """Memory: since_s = begin of the loss; until_s = end of the proving time; marks = losses with water flowing [plant clock]."""

    feeders: tuple[FeederId, ...]
    signal: SignalId | None  # None: none is fitted, which is a loss without end
    named: str
    fall_back: bool
    params: ProbeValidityParams
    code: Code
    permit: Permit
    needs: tuple[Need, ...] = ()

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        found = self._found(evidence)
        if found is None:
            if memory.since_s is None:
                return self.permit, memory
            if memory.until_s is None:
                memory = replace(memory, until_s=evidence.clock_s + self._proving_s(evidence, memory))
            elif evidence.clock_s >= memory.until_s:
                return self.permit, replace(memory, since_s=None, until_s=None)
            found = "proving"
        elif memory.since_s is None or memory.until_s is not None:
            memory = self._lost(evidence, memory)
        if self.fall_back:
            return fallback_limit(self.code, FALLBACK, evidence, memory.since_s, self.named), memory
        return deny(self.code, STOPPED.because(moment(evidence, memory.since_s), signal=self.named, found=found)), memory

    def _found(self, evidence: Evidence) -> str | None:
        """What is wrong with the reading, None where nothing is."""
        if self.signal is None:
            return "not fitted"
        reading = evidence.readings.get(self.signal)
        if reading is None or reading.at_s is None:
            return "no message yet"
        if evidence.clock_s - reading.at_s > AGE_S_MAX:
            return "too old"
        return None if reading.number(Status.MAINTENANCE) is not None else reading.status.name.lower().replace("_", " ")

    def _lost(self, evidence: Evidence, memory: Memory) -> Memory:
        marks = memory.marks
        if evidence.flow.proven:
            marks = (*(mark for mark in marks if mark > evidence.clock_s - DAY_S), evidence.clock_s)[-self.params.repeats :]
        since_s = evidence.clock_s if memory.since_s is None else memory.since_s
        return replace(memory, since_s=since_s, until_s=None, marks=marks)

    def _proving_s(self, evidence: Evidence, memory: Memory) -> float:
        recent = sum(1 for mark in memory.marks if mark > evidence.clock_s - DAY_S)
        return self.params.repeat_s if recent >= self.params.repeats else self.params.proving_s


def _build_orp(site: Site, params: ProbeValidityParams) -> tuple[ProbeValidity, ...]:
    chlorine = site.feeding(Substance.CHLORINE)
    signal = site.first(SignalKind.ORP) or site.first(SignalKind.FREE_CHLORINE)
    if not chlorine:
        return ()
    fitted = None if signal is None else signal.id
    return (ProbeValidity(chlorine, fitted, fitted or "ORP", True, params, CODE_ORP, Permit(CODE_ORP)),)


def _build_ph(site: Site, params: ProbeValidityParams) -> tuple[ProbeValidity, ...]:
    signal = site.first(SignalKind.PH)
    fitted = None if signal is None else signal.id
    groups = ((site.feeding(Substance.CHLORINE), True), (site.feeding(Substance.ACID), False))
    return tuple(
        ProbeValidity(feeders, fitted, fitted or "pH", fall_back, params, CODE_PH, Permit(CODE_PH))
        for feeders, fall_back in groups
        if feeders
    )


KIND_ORP = GuardKind(
    CODE_ORP, ProbeValidityParams, _build_orp, (FALLBACK,),
    stops="chlorine falls back",
    clears="by itself after 5 valid minutes; at the fourth loss in 24 h after an hour",
    why="a loop that trusts a broken probe feeds for ever, one that stops on it leaves the pool without chlorine",
)  # fmt: skip
KIND_PH = GuardKind(
    CODE_PH, ProbeValidityParams, _build_ph, (STOPPED, FALLBACK),
    stops="acid; chlorine falls back",
    clears="by itself after 5 valid minutes; at the fourth loss in 24 h after an hour",
    why="acid is never fed without a pH that can be believed",
)  # fmt: skip
