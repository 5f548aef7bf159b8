"""Chlorine without response: much was fed, and the electrode showed nothing but its own noise."""

from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.fallback import FIRST_DAYS, FIRST_SHARE, LATER_SHARE, LEAST_USUAL_MG_L
from dosectl.core.interlocks.guard import SHOW_MOVE, GuardKind, Memory, Need
from dosectl.core.interlocks.shown import most_mg_l, safe_test
from dosectl.core.interlocks.swing import UNMOVED, followed
from dosectl.core.interlocks.usage import DAY_S, HOUR_S, median_day_mg_l, room_g
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalId, SignalKind
from dosectl.model.verdicts import Limit, Permit, Verdict
from dosectl.model.water_tests import WaterTest

CODE = Code("chlorine.response")
PERMIT = Permit(CODE)
FLOW_S = 24 * HOUR_S
SEEN_SHARE = 0.26  # derived: of what there can be, so much moves an electrode of 20 mV a decade by 2 mV

NO_ANSWER = ReasonKind(
    Code("chlorine.no_response"),
    "{fed_mg_l} mg/L of chlorine were fed over 24 h of flow and the ORP did not move by {moved_mv} mV (noticed at "
    "{since}). The ORP is not used until it moves. Chlorine is held to {rate_mg_l_day} mg/L a day at most, to half "
    "where much was fed before, or after a week; test free chlorine by hand and enter it, then check the probe.",
)


@dataclass(frozen=True, slots=True)
class ChlorineResponseParams:
    moved_mv: float = setting(
        2.0,
        ge=0.5,
        le=10.0,
        unit="mV",
        why="derived: five times the noise of a half-hour mean; pH alone moves a live electrode by more",
    )
    fed_mg_l: float = setting(1.2, ge=0.5, le=10.0, unit="mg/L", why="engineering judgement: four feeds of 0.3 mg/L")


@dataclass(frozen=True, slots=True)
class ChlorineResponse:
    """A fixed gain per feed would trip for nothing: a well-held pool gains none, and at CYA 50 a feed of 0.3 mg/L is
    worth 1.2 mV.
    So only an electrode that moves neither way is judged. Memory: recent and marks[0:4] = its swing; marks[4:7] = flow
    time [s], mass fed in all [g] and plant clock [s] when it last moved; while latched marks[4] = when it latched [plant clock]:
    a clock that is set clears nothing and keeps nothing locked.
    """

    feeders: tuple[FeederId, ...]
    orp: SignalId
    params: ChlorineResponseParams
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    @property
    def mute_signal(self) -> SignalId:
        return self.orp

    def still_to_show(self, _memory: Memory, _tests: tuple[WaterTest, ...], /) -> Code | None:
        """It ends by itself once the electrode moves or was entered as replaced; nothing else says that it answers."""
        return SHOW_MOVE

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        before = memory.marks
        memory = followed(memory, evidence, self.orp, self.params.moved_mv)
        marks = memory.marks
        if memory.latched is not None:
            memory = self._standing(evidence, memory)
        elif marks is not before and len(marks) >= 4:
            if len(marks) < 6 or marks[2:4] != before[2:4] or marks[4] > evidence.flow.clock_s:  # those of a lifted latch
                marks = (*marks[:4], evidence.flow.clock_s, self._fed_g(evidence), evidence.clock_s)
                memory = replace(memory, marks=marks)
            else:
                memory = self._judged(evidence, memory)
        if memory.latched is None or self._tested(evidence, memory):
            return self.permit, memory
        return Limit(CODE, self._room_g(evidence, memory), memory.latched), memory

    def _room_g(self, evidence: Evidence, memory: Memory) -> float:
        """The fall-back's shares, the first for seven days from the last move on; but the later one for as long as
        more than usual was fed since: a stuck electrode may have asked for all there is."""
        usual = max(LEAST_USUAL_MG_L, median_day_mg_l(evidence))
        if len(memory.marks) < 7 or evidence.clock_s - memory.marks[6] > FIRST_DAYS * DAY_S:
            return room_g(evidence, Substance.CHLORINE, DAY_S, LATER_SHARE * usual)
        latched_s, fed_g, moved_s = memory.marks[4:7]
        days = (latched_s - moved_s + FIRST_SHARE * (evidence.clock_s - latched_s)) / DAY_S
        left_g = days * usual * evidence.site.pool.volume_m3 - (self._fed_g(evidence) - fed_g)
        first_g = room_g(evidence, Substance.CHLORINE, DAY_S, FIRST_SHARE * usual)
        return max(room_g(evidence, Substance.CHLORINE, DAY_S, LATER_SHARE * usual), min(left_g, first_g))

    def _fed_g(self, evidence: Evidence) -> float:
        return evidence.ledger.total_g(Substance.CHLORINE)

    def _judged(self, evidence: Evidence, memory: Memory) -> Memory:
        still_s = evidence.flow.clock_s - memory.marks[4]
        fed_mg_l = (self._fed_g(evidence) - memory.marks[5]) / evidence.site.pool.volume_m3
        if still_s < FLOW_S or fed_mg_l < max(self.params.fed_mg_l, SEEN_SHARE * (most_mg_l(evidence) or 0.0)):
            return memory
        rate = round(FIRST_SHARE * max(LEAST_USUAL_MG_L, median_day_mg_l(evidence)), 2)
        why = NO_ANSWER.because(evidence.now, fed_mg_l=round(fed_mg_l, 1), moved_mv=self.params.moved_mv, rate_mg_l_day=rate)
        moved_s = memory.marks[6] if len(memory.marks) > 6 else evidence.clock_s  # of an older record: on the side of less
        return replace(memory, latched=why, marks=(*UNMOVED, evidence.clock_s, memory.marks[5], moved_s))

    def _standing(self, evidence: Evidence, memory: Memory) -> Memory:
        """A standing trip ends once the electrode moves, or a new one was entered since: that has answered nothing ill yet."""
        if len(memory.marks) not in (5, 7):  # of an older record: only a test from now on is surely later
            memory = replace(memory, marks=(*(memory.marks[:4] or UNMOVED), evidence.clock_s))
        renewed_s = evidence.standing.replaced_s(self.orp)
        renewed = renewed_s is not None and renewed_s > memory.marks[4]
        return replace(memory, latched=None, marks=()) if renewed or max(memory.marks[2:4]) > 0.0 else memory

    def _tested(self, evidence: Evidence, memory: Memory) -> bool:
        """Whether a test since the trip lets feeds go on. It says nothing of the electrode, so the trip stands behind it: while a
        test ended it, a dark pool tested weekly was fed for two more days of flow each time, and rose to 11 mg/L."""
        test = safe_test(evidence)
        return test is not None and test.taken_s > memory.marks[4]


def _build(site: Site, params: ChlorineResponseParams) -> tuple[ChlorineResponse, ...]:
    chlorine, orp = site.feeding(Substance.CHLORINE), site.first(SignalKind.ORP)
    return () if orp is None or not chlorine else (ChlorineResponse(chlorine, orp.id, params),)


KIND = GuardKind(
    CODE, ChlorineResponseParams, _build, (NO_ANSWER,),
    stops="chlorine falls back to 60 % of usual use, to 30 % where more than usual was fed and after a week; the ORP is not used",
    clears="once the electrode moves again or is entered as replaced; not in force while a newer hand test and what was fed "
    "since show no way to too much",
    why="a stuck-low electrode asks for chlorine for ever",
)  # fmt: skip
