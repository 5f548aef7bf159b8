"""Ways to say when an alarm's condition stands. True or a reason: it stands; False: it is gone; None: unknown."""

from dataclasses import dataclass

from dosectl.core.alarms.row import Condition, Finding, Looking, Several
from dosectl.core.evidence import Evidence
from dosectl.model.reasons import Code, Facts, Reason
from dosectl.model.signals import SignalKind, Status
from dosectl.model.verdicts import Permit

HOUR_S = 3600.0
DAY_S = 86400.0
TOGETHER_S = 600.0  # probes that fail within so long fail of one cause: a cable, a fuse, a node
SETTLED_S = 600.0
"""Flow must have been proven so long before water values mean the pool's water [s]."""


@dataclass(frozen=True, slots=True)
class ByGuard:
    """Some guard of one of these codes, or with one of these reasons, denies; or limits, where that counts too."""

    codes: tuple[str, ...]
    limits_too: bool

    def __call__(self, look: Looking, _was: bool) -> Finding:
        for code in self.codes:
            why = look.denials.get(code)
            if why is None and self.limits_too:
                why = look.limits.get(code)
            if why is not None:
                return why
        return False


def denied(*codes: str) -> Condition:
    """A guard of one of these codes (or with this reason) denies."""
    return ByGuard(codes, limits_too=False)


def objected(*codes: str) -> Condition:
    """A guard of one of these codes (or with this reason) denies or limits."""
    return ByGuard(codes, limits_too=True)


@dataclass(frozen=True, slots=True)
class ByFeeder:
    """As `ByGuard`, of each feeder by itself: what stands for one and later for another is called for both."""

    codes: tuple[str, ...]

    def __call__(self, look: Looking, _was: bool) -> Finding:
        if not any(code in look.denials or code in look.limits for code in self.codes):
            return False
        found: list[tuple[str, Reason]] = []
        for feeder, verdicts in look.view.objections.items():
            objections = (v for v in verdicts if not isinstance(v, Permit))
            why = next((v.why for v in objections if v.why.code in self.codes or self._named(v.guard)), None)
            if why is not None:
                found.append((str(feeder), why))
        return Several(tuple(found), TOGETHER_S) if found else False

    def _named(self, guard: str) -> bool:
        return any(guard == code or guard.startswith(f"{code}.") for code in self.codes)


def objected_each(*codes: str) -> Condition:
    """As `objected`, of each feeder by itself."""
    return ByFeeder(codes)


def because(look: Looking, code: str, *facts: tuple[str, float | int | bool | str]) -> Reason:
    """A cause that no guard gave, found by the alarm itself."""
    found: Facts = tuple(facts)
    return Reason(Code(code), found, look.view.evidence.now)


def settled(evidence: Evidence) -> bool:
    """Flow has been proven long enough for the probes to show the pool's water."""
    since_s = evidence.flow.since_s
    return since_s is not None and evidence.clock_s - since_s >= SETTLED_S


def below(kind: SignalKind, limit: float, deadband: float, code: str) -> Condition:
    """A value is under a limit, in settled flow; it is gone only beyond the deadband."""

    def condition(look: Looking, was: bool) -> Finding:
        evidence = look.view.evidence
        value = look.number(kind) if settled(evidence) else None
        if value is None:
            return None
        if value < limit + (deadband if was else 0.0):
            return because(look, code, ("value", value), ("limit", limit))
        return False

    return condition


def above(kind: SignalKind, limit: float, deadband: float, code: str) -> Condition:
    """A value is over a limit, in settled flow; it is gone only beyond the deadband."""

    def condition(look: Looking, was: bool) -> Finding:
        evidence = look.view.evidence
        value = look.number(kind) if settled(evidence) else None
        if value is None:
            return None
        if value > limit - (deadband if was else 0.0):
            return because(look, code, ("value", value), ("limit", limit))
        return False

    return condition


def lost(*kinds: SignalKind, in_flow: bool = False, or_objected: str = "") -> Condition:
    """A fitted signal of one of these kinds has no usable value, or a guard of this code objects to one."""

    def condition(look: Looking, _was: bool) -> Finding:
        if in_flow and not settled(look.view.evidence):
            return None
        bad = [reading for kind, reading in look.bad if kind in kinds and reading.status >= Status.FAILURE]
        found: dict[str, Reason | bool] = {str(reading.signal): reading.why or True for reading in bad}
        objected = (look.denials.get(or_objected) or look.limits.get(or_objected)) if or_objected else None
        if objected is not None:
            found.setdefault(str(objected.fact("signal") or or_objected), objected)
        return Several(tuple(found.items()), TOGETHER_S) if found else False

    return condition


def reading_says(*codes: str) -> Condition:
    """Some reading gives one of these reasons for its status."""

    def condition(look: Looking, _was: bool) -> Finding:
        for _, reading in look.bad:
            if reading.why is not None and reading.why.code in codes:
                return reading.why
        return False

    return condition


@dataclass(frozen=True, slots=True)
class Either:
    """One of several; unknown only where none stands and one is unknown."""

    parts: tuple[Condition, ...]

    def __call__(self, look: Looking, was: bool) -> Finding:
        unknown = False
        for part in self.parts:
            found = part(look, was)
            if found is None:
                unknown = True
            elif found is not False:
                return found
        return None if unknown else False


def either(*conditions: Condition) -> Condition:
    """One of several conditions."""
    return Either(conditions)


def switched(kind: SignalKind, state: bool, code: str) -> Condition:
    """A fitted switch has this state."""

    def condition(look: Looking, _was: bool) -> Finding:
        reading = look.first.get(kind)
        if reading is None:
            return False
        found = reading.switch()
        return None if found is None else (because(look, code) if found is state else False)

    return condition
