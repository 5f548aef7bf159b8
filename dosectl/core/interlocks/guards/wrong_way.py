"""Wrong-way response: the reading goes the other way after most feeds, so the probe, the plumbing or the product is wrong."""

from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.after_feed import followed
from dosectl.core.interlocks.answers import latch, standing
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalId, SignalKind
from dosectl.model.verdicts import Permit, Verdict

CODE = Code("response.wrong_way")
FEEDS = 4
WRONG_OF_THEM = 3
SUN_FROM_H = 10.0  # solar time; in strong sun chlorine may fall faster than it is fed
SUN_UNTIL_H = 20.0

PH_UP = ReasonKind(
    Code("response.ph_up"),
    "pH rose after {wrong} of the last {feeds} acid feeds (seen at {since}); acid is locked. Probe, plumbing or drum is "
    "wrong: test pH by hand.",
)
ORP_DOWN = ReasonKind(
    Code("response.orp_down"),
    "ORP fell after {wrong} of the last {feeds} chlorine feeds (seen at {since}); chlorine is locked. Probe or plumbing "
    "is wrong: test free "
    "chlorine by hand.",
)


@dataclass(frozen=True, slots=True)
class WrongWayParams:
    rise_ph: float = setting(
        0.2, ge=0.1, le=1.0, unit="pH", why="engineering judgement: far beyond noise and outgassing of an hour"
    )
    fall_mv: float = setting(
        40.0, ge=15.0, le=150.0, unit="mV", why="engineering judgement: far beyond noise and an hour's decay"
    )
    acid_mg_l: float = setting(0.5, ge=0.2, le=2.0, unit="mg/L as CaCO3", why="engineering judgement: half a full single feed")
    chlorine_mg_l: float = setting(0.3, ge=0.1, le=1.0, unit="mg/L", why="engineering judgement: an excitation, not a trickle")


@dataclass(frozen=True, slots=True)
class WrongWay:
    """Memory: recent = the feed being followed; marks = the last four feeds, 1 for a wrong way, 0 for none."""

    feeders: tuple[FeederId, ...]
    signal: SignalId
    acid: bool
    params: WrongWayParams
    code: Code
    permit: Permit
    needs: tuple[Need, ...] = ()

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        least = self.params.acid_mg_l if self.acid else self.params.chlorine_mg_l
        memory, response = followed(memory, evidence, self.feeders, self.signal, least)
        if response is not None and (self.acid or not self._in_sun(evidence)):
            wrong = response.change > self.params.rise_ph if self.acid else response.change < -self.params.fall_mv
            marks = (*memory.marks, 1.0 if wrong else 0.0)[-FEEDS:]
            count = int(sum(marks))
            if count >= WRONG_OF_THEM:
                why = (PH_UP if self.acid else ORP_DOWN).because(evidence.now, wrong=count, feeds=len(marks))
                return latch(self.code, replace(memory, marks=()), why)
            if marks != memory.marks:
                memory = replace(memory, marks=marks)
        return (self.permit if memory.latched is None else standing(self.code, memory)), memory

    def _in_sun(self, evidence: Evidence) -> bool:
        utc = evidence.now.utc
        solar_h = (utc.hour + utc.minute / 60.0 + evidence.site.pool.longitude_deg / 15.0) % 24.0
        return SUN_FROM_H <= solar_h < SUN_UNTIL_H


def _build(site: Site, params: WrongWayParams) -> tuple[WrongWay, ...]:
    guards: list[WrongWay] = []
    for kind, substance in ((SignalKind.PH, Substance.ACID), (SignalKind.ORP, Substance.CHLORINE)):
        signal, feeders = site.first(kind), site.feeding(substance)
        if signal is not None and feeders:
            guards.append(WrongWay(feeders, signal.id, substance is Substance.ACID, params, CODE, Permit(CODE)))
    return tuple(guards)


KIND = GuardKind(
    CODE, WrongWayParams, _build, (PH_UP, ORP_DOWN),
    stops="the feeders of that loop",
    clears="by a person",
    why="swapped plugs or swapped drums make a loop that feeds the more the further it is off",
)  # fmt: skip
