"""Single feed: one pulse of a pumped chemical is bounded, whoever asked for it."""

from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import moment
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.interlocks.usage import DAYS_NEEDED, days_known
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.verdicts import Limit, Verdict

CODE = Code("mass.single")
CHLORINE_MG_L_CEILING = 1.0
ACID_MG_L_CEILING = 2.0
YOUNG_SHARE = 0.5  # until 14 days are accepted

SINGLE = ReasonKind(
    Code("mass.single_limit"), "One feed of {feeder} is at most {limit_mg_l} mg/L; what began at {since} is shortened to that."
)


@dataclass(frozen=True, slots=True)
class MassSingleParams:
    chlorine_mg_l: float = setting(
        0.5,
        ge=0.05,
        le=CHLORINE_MG_L_CEILING,
        unit="mg/L",
        why="engineering judgement: a sixth of an ordinary level, seen before the next",
    )
    acid_mg_l: float = setting(
        1.0, ge=0.05, le=ACID_MG_L_CEILING, unit="mg/L as CaCO3", why="derived: about -0.1 pH at an alkalinity of 80 mg/L"
    )


@dataclass(frozen=True, slots=True)
class MassSingle:
    """A cell makes chlorine continuously and is held by the hour instead. Memory: marks = (booked when this feed began [g],)."""

    feeders: tuple[FeederId, ...]
    feeder: FeederId
    substance: Substance
    limit_mg_l: float
    code: Code = CODE
    needs: tuple[Need, ...] = ()

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        facts = evidence.feeders[self.feeder]
        booked_g = evidence.ledger.of(self.feeder).total_g
        idle = not facts.asked_on and not facts.running
        if not memory.marks or (idle and memory.marks[0] != booked_g):
            memory = replace(memory, marks=(booked_g,))
        young = len(days_known(evidence, self.substance)) < DAYS_NEEDED
        limit_mg_l = self.limit_mg_l * (YOUNG_SHARE if young else 1.0)
        left_g = limit_mg_l * evidence.site.pool.volume_m3 - (booked_g - memory.marks[0])
        since = evidence.now if idle else moment(evidence, facts.asked_on_since_s)
        why = SINGLE.because(since, feeder=self.feeder, limit_mg_l=limit_mg_l)
        return Limit(CODE, max(0.0, left_g), why), memory


def _build(site: Site, params: MassSingleParams) -> tuple[MassSingle, ...]:
    def one(feeder: Feeder) -> MassSingle:
        chlorine = feeder.substance is Substance.CHLORINE
        return MassSingle((feeder.id,), feeder.id, feeder.substance, params.chlorine_mg_l if chlorine else params.acid_mg_l)

    return tuple(one(feeder) for feeder in site.feeders if feeder.kind != "cell")


KIND = GuardKind(
    CODE, MassSingleParams, _build, (SINGLE,),
    stops="limits that feed",
    clears="with the next feed, after the mixing wait",
    why="the probe must see a feed before the next one is judged",
)  # fmt: skip
