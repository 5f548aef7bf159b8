"""Acid without response: acid that brings no fall of pH goes somewhere else, or the probe is wrong."""

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

CODE = Code("acid.response")
PERMIT = Permit(CODE)
EXPECTED_PER_MG_L = -0.082  # derived: -0.41 for 5 mg/L from pH 7.8 at an alkalinity of 80 mg/L

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


@dataclass(frozen=True, slots=True)
class AcidResponse:
    """Falls are summed feed by feed, each within its own hour of flow: between feeds outgassing brings the pH back up,
    so the pH of a
    well-held pool never falls for long. Memory: recent = the feed being followed; marks = (mass [mg/L], sum of changes [pH]).
    """

    feeders: tuple[FeederId, ...]
    ph: SignalId
    params: AcidResponseParams
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        memory, response = followed(memory, evidence, self.feeders, self.ph, self.params.feed_mg_l)
        if response is not None:
            mass, change = memory.marks or (0.0, 0.0)
            mass, change = mass + response.mass_mg_l, change + response.change
            if change <= -self.params.fall_ph:
                memory = replace(memory, marks=())
            elif mass < self.params.mass_mg_l:
                memory = replace(memory, marks=(mass, change))
            else:
                expected = round(EXPECTED_PER_MG_L * mass, 2)
                why = NO_FALL.because(evidence.now, mass_mg_l=round(mass, 1), expected_ph=expected, seen_ph=round(change, 2))
                return latch(CODE, replace(memory, marks=()), why)
        return (self.permit if memory.latched is None else standing(CODE, memory)), memory


def _build(site: Site, params: AcidResponseParams) -> tuple[AcidResponse, ...]:
    acid, ph = site.feeding(Substance.ACID), site.first(SignalKind.PH)
    return () if ph is None or not acid else (AcidResponse(acid, ph.id, params),)


KIND = GuardKind(
    CODE, AcidResponseParams, _build, (NO_FALL,),
    stops="acid",
    clears="by a person after a hand test",
    why="acid fed without effect stands in a pipe, a drum's tray or a pool whose pH nobody sees",
)  # fmt: skip
