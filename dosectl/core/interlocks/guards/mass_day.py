"""Daily mass: the rolling 24 hours of the ledger against a limit that knows what the pool usually takes.

A pool that takes little has less than the limit of the installation. One that is known to take more, over a fortnight of accepted
days, has 1.3 times its usual use, up to a ceiling: with 5 mg/L alone a pool with much stabiliser in open sun, or one whose
hypochlorite has aged and is booked by its label, starves in health. A day that the limit cut teaches no more than the limit of
the installation (`controller.uses`), so that a fault can't raise its own limit.

Where a young hand test and the ledger show that too much can't be there, the ceiling is the limit: a party or a bloom that
outruns the day's limit takes the whole pool. One test buys a day or two, by the least loss there may be; two that show how much
is lost, to algae or by a stale product, a week.
"""

from dataclasses import dataclass

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.interlocks.shown import shown_safe
from dosectl.core.interlocks.usage import DAY_S, days_known, median_day_mg_l, raised_day_mg_l, room_g
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.verdicts import Limit, Permit, Verdict

CODE = Code("mass.day")
PERMIT = Permit(CODE)
CHLORINE_MG_L_CEILING = 8.0
ACID_MG_L_CEILING = 10.0
LEAST_MG_L = 3.0  # a quiet fortnight must not bar a party
MEDIAN_TIMES = 2.5
AMPLE_MG_L = 0.5  # more than any reservation

DAILY = ReasonKind(
    Code("mass.day_limit"),
    "{fed_mg_l} mg/L of {substance} went in within 24 h, and {limit_mg_l} mg/L is the daily limit ({limited_by}). Algae, "
    "rain, bathers or a "
    "wrong probe: test by hand.",
)


@dataclass(frozen=True, slots=True)
class MassDayParams:
    chlorine_mg_l: float = setting(
        5.0,
        ge=0.5,
        le=CHLORINE_MG_L_CEILING,
        unit="mg/L per day",
        why="engineering judgement: twice a hot day of an outdoor pool",
    )
    chlorine_most_mg_l: float = setting(
        CHLORINE_MG_L_CEILING,
        ge=0.5,
        le=CHLORINE_MG_L_CEILING,
        unit="mg/L per day",
        why="engineering judgement: 1.3 times the usual use where that is more, at most this; as chlorine_mg_l: never",
    )
    acid_mg_l: float = setting(
        5.0, ge=0.5, le=ACID_MG_L_CEILING, unit="mg/L as CaCO3 per day", why="derived: outgassing asks for 1.4 to 4.9 mg/L a day"
    )


@dataclass(frozen=True, slots=True)
class MassDay:
    feeders: tuple[FeederId, ...]
    substance: Substance
    installed_mg_l: float
    most_mg_l: float
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        limit_mg_l, limited_by = self.installed_mg_l, "set at installation"
        if self.substance is Substance.CHLORINE:
            usual_mg_l = max(LEAST_MG_L, MEDIAN_TIMES * median_day_mg_l(evidence))
            limit_mg_l = raised_day_mg_l(limit_mg_l, self.most_mg_l, days_known(evidence, self.substance))
            if usual_mg_l < limit_mg_l or limit_mg_l > self.installed_mg_l:
                limit_mg_l, limited_by = min(limit_mg_l, usual_mg_l), "by usual use"
        volume_m3 = evidence.site.pool.volume_m3
        left_g = room_g(evidence, self.substance, DAY_S, limit_mg_l)
        if left_g < AMPLE_MG_L * volume_m3 and self.substance is Substance.CHLORINE and shown_safe(evidence):
            limit_mg_l, limited_by = max(limit_mg_l, self.most_mg_l), "the ceiling, as a hand test leaves no room for too much"
            left_g = room_g(evidence, self.substance, DAY_S, limit_mg_l)
        if left_g >= AMPLE_MG_L * volume_m3:
            return self.permit, memory
        fed_mg_l = round(limit_mg_l - left_g / volume_m3, 2)
        limit = round(limit_mg_l, 2)
        why = DAILY.because(
            evidence.now, substance=self.substance.value, fed_mg_l=fed_mg_l, limit_mg_l=limit, limited_by=limited_by
        )
        return Limit(CODE, left_g, why), memory


def _build(site: Site, params: MassDayParams) -> tuple[MassDay, ...]:
    limits = (
        (Substance.CHLORINE, params.chlorine_mg_l, params.chlorine_most_mg_l),
        (Substance.ACID, params.acid_mg_l, params.acid_mg_l),
    )
    return tuple(
        MassDay(feeders, substance, limit, most) for substance, limit, most in limits if (feeders := site.feeding(substance))
    )


KIND = GuardKind(
    CODE, MassDayParams, _build, (DAILY,),
    stops="limits the feeders of that substance",
    clears="by itself as the window passes",
    why="a rolling day can't be reset by midnight, a restart or a clock; no limit reads the running target",
)  # fmt: skip
