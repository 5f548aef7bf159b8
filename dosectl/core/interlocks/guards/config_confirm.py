"""Configuration: a changed safety-relevant value holds the feeders it concerns until a person has confirmed the effect."""

from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import deny, moment, utc_text
from dosectl.core.interlocks.guard import PERSON, GuardKind, Memory, Need
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import FeederId
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.verdicts import Denial, Permit, Verdict

CODE = Code("config.confirm")

UNCONFIRMED = ReasonKind(
    Code("config.unconfirmed"),
    "The settings of {feeder} changed and are not confirmed (noticed at {since}); it is held. Look at the before and "
    "after sheet and confirm it.",
)
SETTLING = ReasonKind(
    Code("config.settling"),
    "The new settings of {feeder} were confirmed at {since}; feeding may begin at {until_utc}, time for a second look.",
)


@dataclass(frozen=True, slots=True)
class ConfigConfirmParams:
    wait_s: float = setting(
        600.0, ge=60.0, le=7200.0, unit="s", why="engineering judgement: time to see what the new values want to do"
    )


@dataclass(frozen=True, slots=True)
class ConfigConfirm:
    """Memory: count = 1 once seen unconfirmed; marks = (when it was confirmed,); since_s = when it was first noticed."""

    feeders: tuple[FeederId, ...]
    pair: tuple[FeederId, str]
    params: ConfigConfirmParams
    code: Code
    permit: Permit
    needs: tuple[Need, ...] = ()

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        if self.pair not in evidence.standing.confirmed:
            if memory.count != 1 or memory.marks or memory.since_s is None:
                memory = replace(memory, count=1, marks=(), since_s=evidence.clock_s)
            why = UNCONFIRMED.because(moment(evidence, memory.since_s), feeder=self.pair[0])
            return Denial(self.code, why, True, PERSON), memory
        if memory.count == 0:
            return self.permit, memory
        if not memory.marks:
            memory = replace(memory, marks=(evidence.clock_s,))
        until_s = memory.marks[0] + self.params.wait_s
        if evidence.clock_s >= until_s:
            return self.permit, replace(memory, count=0, marks=(), since_s=None)
        why = SETTLING.because(moment(evidence, memory.marks[0]), feeder=self.pair[0], until_utc=utc_text(evidence, until_s))
        return deny(self.code, why), memory


def _build(site: Site, params: ConfigConfirmParams) -> tuple[ConfigConfirm, ...]:
    def one(feeder: Feeder) -> ConfigConfirm:
        return ConfigConfirm((feeder.id,), (feeder.id, feeder.digest), params, CODE, Permit(CODE))

    return tuple(map(one, site.feeders))


KIND = GuardKind(
    CODE, ConfigConfirmParams, _build, (UNCONFIRMED, SETTLING),
    stops="the feeders concerned",
    clears="once confirmed, 10 min later",
    why="a volume typed as 5 instead of 50 m3, or the reverse, changes every dose by ten",
)  # fmt: skip
