"""Acid without response: acid that brings no fall of pH goes somewhere else, or the probe is wrong."""

from dataclasses import dataclass, replace
from math import ceil
from typing import NamedTuple

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.after_feed import Response, followed, spoilt
from dosectl.core.interlocks.answers import latch, standing
from dosectl.core.interlocks.by_itself import STRONG, Course, observed
from dosectl.core.interlocks.guard import SHOW_PH_TEST, GuardKind, Memory, Need
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, Reason, ReasonKind
from dosectl.model.signals import SignalId, SignalKind
from dosectl.model.verdicts import Permit, Verdict
from dosectl.model.water_tests import Quantity, WaterTest

CODE = Code("acid.response")
PERMIT = Permit(CODE)
EXPECTED_PER_MG_L = -0.082  # derived: -0.41 for 5 mg/L from pH 7.8 at an alkalinity of 80 mg/L
ALKALINITY_MG_L = 80.0
BUFFERS_MAX = 2.5  # more than 200 mg/L is asked no more acid for: a test that is far off must not put the guard to sleep
LOOKS_MIN = 6  # engineering judgement: one step of the electrode, one gust, one shadow must not decide
LOOK_MAX = 0.1  # pH per mg/L that one feed may count with: more is no answer of acid, but a step of the electrode
BLIND = 2.0  # times the mass, while it is not known what the pH does by itself

NO_FALL = ReasonKind(
    Code("acid.no_response"),
    "{mass_mg_l} mg/L of acid brought no fall of pH (expected {expected_ph}, saw {seen_ph}, noticed at {since}); acid is "
    "locked. Empty line, wrong "
    "probe or wrong strength: test pH by hand; drum and tube only by someone trained, with "
    "gloves and goggles.",
)


@dataclass(frozen=True, slots=True)
class AcidResponseParams:
    mass_mg_l: float = setting(
        5.0, ge=1.0, le=10.0, unit="mg/L as CaCO3", why="derived: -0.41 pH expected from 7.8 at alkalinity 80"
    )
    fall_ph: float = setting(0.10, ge=0.02, le=0.5, unit="pH", why="engineering judgement: a quarter of what is expected")
    feed_mg_l: float = setting(
        0.3, ge=0.1, le=1.0, unit="mg/L as CaCO3", why="derived: less moves pH no more than its noise in an hour"
    )


class Looks(NamedTuple):
    """Feeds followed since the last answer: mass [mg/L], change of pH in all, hours of flow, their number."""

    mass_mg_l: float = 0.0
    change: float = 0.0
    flow_h: float = 0.0
    number: float = 0.0

    def and_one(self, response: Response) -> "Looks":
        most = LOOK_MAX * response.mass_mg_l
        change = max(-most, min(most, response.change))
        return Looks(self.mass_mg_l + response.mass_mg_l, self.change + change, self.flow_h + response.flow_h, self.number + 1.0)


NO_LOOKS = Looks()


@dataclass(frozen=True, slots=True)
class AcidResponse:
    """Falls are summed feed by feed, each within its own hour of flow, and the rise that the water makes by itself in those hours
    is taken off: in a well-aired pool it makes up for nearly all that small feeds do, and a well-held pH never falls for long.
    Many feeds are judged together, and none counts for more than acid can do.

    Memory: recent = the feed being followed; marks = `Looks`, then the `Course` of the pH without acid; while latched
    count = the second of the plant clock at which it latched.
    """

    feeders: tuple[FeederId, ...]
    ph: SignalId
    params: AcidResponseParams
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def still_to_show(self, memory: Memory, tests: tuple[WaterTest, ...], /) -> Code | None:
        """A test of the pH since it latched."""
        shown = memory.count > 0 and any(
            t.quantity is Quantity.PH and not t.withdrawn and t.taken_s > memory.count for t in tests
        )
        return None if shown else SHOW_PH_TEST

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        before = memory
        memory, response = followed(memory, evidence, self.feeders, self.ph, self.params.feed_mg_l)
        if memory is not before:
            looks, course = _kept(memory)
            course = observed(course, before, memory, evidence.flow.clock_s, evidence.standing.added_s)
            if response is not None and memory.latched is None and not spoilt(evidence, response):
                looks = looks.and_one(response)
                change = looks.change - (course.per_h or 0.0) * looks.flow_h
                if change <= -self.params.fall_ph:
                    looks = NO_LOOKS
                elif looks.number >= LOOKS_MIN and self._enough(evidence, looks, course):
                    why = self._why(evidence, looks, change)
                    return latch(CODE, replace(memory, marks=(*NO_LOOKS, *course), count=ceil(evidence.clock_s)), why)
            marks = (*looks, *course) if (looks, course) != (NO_LOOKS, Course()) else ()
            if marks != memory.marks:
                memory = replace(memory, marks=marks)
        if memory.latched is not None and memory.count == 0:  # of an older record: only a test from now on is surely later
            memory = replace(memory, count=ceil(evidence.clock_s))
        return (self.permit if memory.latched is None else standing(CODE, memory)), memory

    def _enough(self, evidence: Evidence, looks: Looks, course: Course) -> bool:
        """Whether so much acid must have shown by now: twice as much where what the pH does by itself is not known, unless even
        a strong rise does not explain it.
        """
        enough_mg_l = self.params.mass_mg_l * _buffers(evidence)
        unexplained = looks.change - STRONG * looks.flow_h > -self.params.fall_ph
        return looks.mass_mg_l >= (enough_mg_l if course.per_h is not None or unexplained else BLIND * enough_mg_l)

    def _why(self, evidence: Evidence, looks: Looks, change: float) -> Reason:
        expected = EXPECTED_PER_MG_L * looks.mass_mg_l / _buffers(evidence)
        return NO_FALL.because(
            evidence.now, mass_mg_l=round(looks.mass_mg_l, 1), expected_ph=round(expected, 2), seen_ph=round(change, 2)
        )


def _kept(memory: Memory) -> tuple[Looks, Course]:
    """What the marks hold; those of an older release say nothing of the rise, and begin anew."""
    if len(memory.marks) != len(Looks._fields) + len(Course._fields):
        return NO_LOOKS, Course()
    return Looks(*memory.marks[:4]), Course(*memory.marks[4:])


def _buffers(evidence: Evidence) -> float:
    """How many times the acid the water takes, by its tested alkalinity, for the fall that 80 mg/L shows; 1 for less."""
    test = evidence.newest_test(Quantity.ALKALINITY)
    alkalinity_mg_l = evidence.site.pool.alkalinity_mg_l if test is None else test.value
    return min(BUFFERS_MAX, max(1.0, alkalinity_mg_l / ALKALINITY_MG_L))


def _build(site: Site, params: AcidResponseParams) -> tuple[AcidResponse, ...]:
    acid, ph = site.feeding(Substance.ACID), site.first(SignalKind.PH)
    return () if ph is None or not acid else (AcidResponse(acid, ph.id, params),)


KIND = GuardKind(
    CODE, AcidResponseParams, _build, (NO_FALL,),
    stops="acid",
    clears="by a person after a hand test",
    why="acid fed without effect stands in a pipe, a drum's tray or a pool whose pH nobody sees",
)  # fmt: skip
