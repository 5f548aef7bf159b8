"""Hourly mass: the rolling 60 minutes of the ledger, shared by all feeders of a substance."""

from dataclasses import dataclass

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.interlocks.usage import DAYS_NEEDED, HOUR_S, days_known, room_g
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.verdicts import Limit, Permit, Verdict

CODE = Code("mass.hour")
PERMIT = Permit(CODE)
CHLORINE_MG_L_CEILING = 1.5
ACID_MG_L_CEILING = 5.0
YOUNG_SHARE = 0.5  # until 14 days are accepted
AMPLE_MG_L = 0.5  # more than any reservation: a limit of more binds nothing, so none is spelt out

HOURLY = ReasonKind(
    Code("mass.hour_limit"),
    "{fed_mg_l} mg/L of {substance} went in within 60 minutes and the hourly limit is {limit_mg_l} mg/L; more as that "
    "hour passes.",
)


@dataclass(frozen=True, slots=True)
class MassHourParams:
    chlorine_mg_l: float = setting(
        1.0,
        ge=0.1,
        le=CHLORINE_MG_L_CEILING,
        unit="mg/L per h",
        why="engineering judgement: leaves hours to act on a stuck probe",
    )
    acid_mg_l: float = setting(
        2.5,
        ge=0.1,
        le=ACID_MG_L_CEILING,
        unit="mg/L as CaCO3 per h",
        why="derived: about -0.2 pH an hour at an alkalinity of 80 mg/L",
    )


@dataclass(frozen=True, slots=True)
class MassHour:
    feeders: tuple[FeederId, ...]
    substance: Substance
    limit_mg_l: float
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        young = len(days_known(evidence, self.substance)) < DAYS_NEEDED
        limit_mg_l = self.limit_mg_l * (YOUNG_SHARE if young else 1.0)
        left_g = room_g(evidence, self.substance, HOUR_S, limit_mg_l)
        volume_m3 = evidence.site.pool.volume_m3
        if left_g >= AMPLE_MG_L * volume_m3:
            return self.permit, memory
        fed_mg_l = round(limit_mg_l - left_g / volume_m3, 2)
        why = HOURLY.because(evidence.now, substance=self.substance.value, fed_mg_l=fed_mg_l, limit_mg_l=limit_mg_l)
        return Limit(CODE, left_g, why), memory


def _build(site: Site, params: MassHourParams) -> tuple[MassHour, ...]:
    limits = ((Substance.CHLORINE, params.chlorine_mg_l), (Substance.ACID, params.acid_mg_l))
    return tuple(MassHour(feeders, substance, limit) for substance, limit in limits if (feeders := site.feeding(substance)))


KIND = GuardKind(
    CODE, MassHourParams, _build, (HOURLY,),
    stops="limits the feeders of that substance",
    clears="by itself as the window passes",
    why="whatever asks for more, there is time to notice; half of it in the first 14 accepted days",
)  # fmt: skip
