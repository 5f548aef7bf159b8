"""Acid budget: acid uses up alkalinity, and with little alkalinity left each litre moves the pH twice as far."""

from dataclasses import dataclass

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.guard import TEST, GuardKind, Memory, Need
from dosectl.core.interlocks.usage import DAY_S, room_g
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.verdicts import Denial, Limit, Permit, Verdict
from dosectl.model.water_tests import Quantity

CODE = Code("acid.budget")
PERMIT = Permit(CODE)
LIMIT_SHARE_CEILING = 0.30
STOP_SHARE_CEILING = 0.45
LASTS_DAYS = 3.0  # what is left to the stop is spread over these, anew at each step: it fades out, and no latch waits at its end

LOW = ReasonKind(
    Code("acid.budget_low"),
    "Acid has used {used_percent} % of the alkalinity of {alkalinity_mg_l} mg/L since it was last tested; acid is held to "
    "{rate_mg_l_day} mg/L a "
    "day. Test the alkalinity and enter it.",
)
SPENT = ReasonKind(
    Code("acid.budget_spent"),
    "Acid has used {used_percent} % of the alkalinity of {alkalinity_mg_l} mg/L since it was last tested; acid is "
    "stopped. Test the alkalinity, "
    "raise it if it is low, and enter the result.",
)


@dataclass(frozen=True, slots=True)
class AcidBudgetParams:
    limit_share: float = setting(
        0.30, ge=0.05, le=LIMIT_SHARE_CEILING, unit="share", why="derived: 30 % of the alkalinity from pH 7.4 leaves 6.6"
    )
    stop_share: float = setting(
        0.45, ge=0.10, le=STOP_SHARE_CEILING, unit="share", why="engineering judgement: the rest still buffers a pool for days"
    )
    rate_mg_l_day: float = setting(
        1.0,
        ge=0.0,
        le=2.0,
        unit="mg/L as CaCO3 per day",
        why="engineering judgement: slows the rise of pH while a test is awaited",
    )


@dataclass(frozen=True, slots=True)
class AcidBudget:
    """No memory: the ledger only grows, so what is spent stays spent until a newer alkalinity test."""

    feeders: tuple[FeederId, ...]
    params: AcidBudgetParams
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        pool = evidence.site.pool
        test = evidence.newest_test(Quantity.ALKALINITY) if evidence.tests else None
        if test is None:
            alkalinity_mg_l = pool.alkalinity_mg_l
            used_g = evidence.ledger.total_g(Substance.ACID)
        else:
            alkalinity_mg_l = test.value
            used_g = evidence.ledger.window_g(Substance.ACID, evidence.clock_s, max(0.0, evidence.clock_s - test.taken_s))
        used_mg_l = used_g / pool.volume_m3
        if used_mg_l <= self.params.limit_share * alkalinity_mg_l and alkalinity_mg_l > 0.0:
            return self.permit, memory
        percent = round(100.0 * used_mg_l / alkalinity_mg_l) if alkalinity_mg_l > 0.0 else 100
        if used_mg_l > self.params.stop_share * alkalinity_mg_l or alkalinity_mg_l <= 0.0:
            why = SPENT.because(evidence.now, used_percent=percent, alkalinity_mg_l=round(alkalinity_mg_l))
            return Denial(CODE, why, True, TEST), memory
        left_mg_l = self.params.stop_share * alkalinity_mg_l - used_mg_l
        rate = round(min(self.params.rate_mg_l_day, left_mg_l / LASTS_DAYS), 1)
        why = LOW.because(evidence.now, used_percent=percent, alkalinity_mg_l=round(alkalinity_mg_l), rate_mg_l_day=rate)
        return Limit(CODE, room_g(evidence, Substance.ACID, DAY_S, rate), why), memory


def _build(site: Site, params: AcidBudgetParams) -> tuple[AcidBudget, ...]:
    acid = site.feeding(Substance.ACID)
    return (AcidBudget(acid, params),) if acid else ()


KIND = GuardKind(
    CODE, AcidBudgetParams, _build, (LOW, SPENT),
    stops="limits acid at 30 % of the alkalinity, ever more towards 45 %, where it is stopped",
    clears="with a newer alkalinity test",
    why="20 L of strong acid is beyond all the alkalinity of a home pool: the ledger must know what is left",
)  # fmt: skip
