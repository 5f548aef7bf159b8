"""Two-probe agreement: a pair that drifts apart says that one of them is wrong, not which."""

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

CODE = Code("probe.agreement")

APART = ReasonKind(
    Code("agreement.apart"), "{first} and {second} disagree since {since}; acid waits. Test by hand to find which one is wrong."
)
FALLBACK = ReasonKind(
    Code("agreement.fallback"),
    "{signal} disagree since {since}; chlorine runs blind at {rate_mg_l_day} mg/L a day. Test by hand to find which one "
    "is wrong.",
)


@dataclass(frozen=True, slots=True)
class ProbeAgreementParams:
    orp_mv: float = setting(
        40.0, ge=10.0, le=150.0, unit="mV", why="engineering judgement: two sound electrodes lie within 20 mV"
    )
    ph: float = setting(0.3, ge=0.05, le=1.0, unit="pH", why="engineering judgement: two sound electrodes lie within 0.1")
    apart_s: float = setting(900.0, ge=60.0, le=7200.0, unit="s", why="engineering judgement: they respond at different speeds")
    together_s: float = setting(1800.0, ge=300.0, le=14400.0, unit="s", why="engineering judgement: twice the time to trip")


@dataclass(frozen=True, slots=True)
class ProbeAgreement:
    """Memory: since_s = apart since; count = 1 while in doubt; until_s = when agreement is believed. One of them lost
    changes nothing."""

    feeders: tuple[FeederId, ...]
    first: SignalId
    second: SignalId
    apart: float
    fall_back: bool
    params: ProbeAgreementParams
    code: Code
    permit: Permit
    needs: tuple[Need, ...] = ()

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        difference = self._difference(evidence)
        if difference is not None and evidence.flow.proven:
            memory = self._followed(evidence, memory, difference > self.apart)
        if memory.since_s is not None and memory.count == 0 and evidence.clock_s - memory.since_s >= self.params.apart_s:
            memory = replace(memory, count=1)
        if memory.count == 0:
            return self.permit, memory
        if self.fall_back:
            named = f"{self.first} and {self.second}"
            return fallback_limit(self.code, FALLBACK, evidence, memory.since_s, named), memory
        return deny(self.code, APART.because(moment(evidence, memory.since_s), first=self.first, second=self.second)), memory

    def _difference(self, evidence: Evidence) -> float | None:
        first, second = evidence.readings.get(self.first), evidence.readings.get(self.second)
        a = None if first is None else first.number(Status.OUT_OF_SPEC)
        b = None if second is None else second.number(Status.OUT_OF_SPEC)
        return None if a is None or b is None else abs(a - b)

    def _followed(self, evidence: Evidence, memory: Memory, apart: bool) -> Memory:
        if apart:
            if memory.since_s is None or memory.until_s is not None:
                since_s = evidence.clock_s if memory.since_s is None else memory.since_s
                memory = replace(memory, since_s=since_s, until_s=None)
            return memory
        if memory.count == 0:
            return memory if memory.since_s is None else replace(memory, since_s=None)
        if memory.until_s is None:
            return replace(memory, until_s=evidence.clock_s + self.params.together_s)
        return replace(memory, since_s=None, until_s=None, count=0) if evidence.clock_s >= memory.until_s else memory


def _build(site: Site, params: ProbeAgreementParams) -> tuple[ProbeAgreement, ...]:
    chlorine, acid = site.feeding(Substance.CHLORINE), site.feeding(Substance.ACID)
    guards: list[ProbeAgreement] = []
    for signal in site.signals:
        if signal.partner is None or signal.kind not in {SignalKind.ORP, SignalKind.PH}:
            continue
        code = Code(f"{CODE}.{signal.id}")
        orp = signal.kind is SignalKind.ORP
        feeders, apart = (chlorine, params.orp_mv) if orp else (acid, params.ph)
        if feeders:
            guards.append(ProbeAgreement(feeders, signal.id, signal.partner, apart, orp, params, code, Permit(code)))
    return tuple(guards)


KIND = GuardKind(
    CODE, ProbeAgreementParams, _build, (APART, FALLBACK),
    stops="acid on pH; chlorine falls back on ORP",
    clears="by itself after 30 min of agreement",
    why="a slow drift within bounds shows only beside a second probe",
    fits=lambda _site: True,
)  # fmt: skip
