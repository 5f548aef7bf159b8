"""A gap of the record: a node obeyed commands that the record never gave, so the record is new, or an old copy put back.

What was fed meanwhile is then in no window of any limit. Chlorine goes on at the fall-back's first rate, for stopping is a hazard
too: for a day, after which the windows of a day know everything again, or until it was tested by hand. It comes by shares spread
over that day, for the windows are empty: a record that goes back to one copy at each start had a day's amount anew each time.
Acid waits until pH and alkalinity were tested by hand: no day tells how much of the alkalinity it has used since the last test.
"""

from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import deny, moment, utc_text
from dosectl.core.interlocks.fallback import FIRST_SHARE, LEAST_USUAL_MG_L
from dosectl.core.interlocks.guard import TEST, GuardKind, Memory, Need
from dosectl.core.interlocks.usage import DAY_S, median_day_mg_l, room_g
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.verdicts import Limit, Permit, Verdict
from dosectl.model.water_tests import Quantity

CODE = Code("record.gap")
PERMIT = Permit(CODE)
HOLD_S = DAY_S
SHARE_S = 1800.0  # engineering judgement: short beside the time between two starts, long beside a cell's switching

CHLORINE = ReasonKind(
    Code("record.gap_chlorine"),
    "At {since} a node had obeyed command {node_no}, and the record knows of none after {own_no}: it is new, or an old copy. "
    "Chlorine is fed at {rate_mg_l_day} mg/L a day until {until_utc}, or until free chlorine is tested by hand and entered.",
)
ACID = ReasonKind(
    Code("record.gap_acid"),
    "At {since} a node had obeyed command {node_no}, and the record knows of none after {own_no}: it is new, or an old copy. "
    "Acid waits until pH and alkalinity are tested by hand and entered.",
)


@dataclass(frozen=True, slots=True)
class RecordGap:
    """Memory: marks = (when the newest gap was found [plant clock], the node's number, ours), kept while the hold lasts."""

    feeders: tuple[FeederId, ...]
    with_node: tuple[FeederId, ...]
    chlorine: bool
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        for feeder in self.with_node:
            facts = evidence.feeders[feeder]
            if facts.node_no is not None and facts.node_no > facts.command_no:
                memory = replace(memory, marks=(evidence.clock_s, float(facts.node_no), float(facts.command_no)))
        if not memory.marks:
            return self.permit, memory
        found_s, node_no, own_no = memory.marks
        since_s = evidence.clock_s - found_s
        if (self.chlorine and since_s >= HOLD_S) or self._tested(evidence, found_s):
            return self.permit, replace(memory, marks=())
        since = moment(evidence, found_s)
        if not self.chlorine:
            return deny(CODE, ACID.because(since, node_no=round(node_no), own_no=round(own_no)), TEST), memory
        rate = FIRST_SHARE * max(LEAST_USUAL_MG_L, median_day_mg_l(evidence))
        until = utc_text(evidence, found_s + HOLD_S)
        why = CHLORINE.because(since, node_no=round(node_no), own_no=round(own_no), rate_mg_l_day=round(rate, 2), until_utc=until)
        # By whole shares: with what came second by second the demo's cell was on 8400 times a day, for a second or two.
        shares_g = room_g(evidence, Substance.CHLORINE, since_s, rate * (since_s // SHARE_S) * SHARE_S / DAY_S)
        return Limit(CODE, min(shares_g, room_g(evidence, Substance.CHLORINE, DAY_S, rate)), why), memory

    def _tested(self, evidence: Evidence, found_s: float) -> bool:
        wanted = (Quantity.FREE_CHLORINE,) if self.chlorine else (Quantity.PH, Quantity.ALKALINITY)
        tests = [evidence.newest_test(quantity) for quantity in wanted]
        return all(test is not None and test.taken_s > found_s for test in tests)


def _build(site: Site, _: None) -> tuple[RecordGap, ...]:
    with_node = tuple(feeder.id for feeder in site.feeders if feeder.node is not None)
    chlorine = site.feeding(Substance.CHLORINE)
    others = tuple(feeder.id for feeder in site.feeders if feeder.substance is not Substance.CHLORINE)
    groups = ((chlorine, True), (others, False))
    return tuple(RecordGap(feeders, with_node, is_chlorine) for feeders, is_chlorine in groups if feeders and with_node)


KIND = GuardKind(
    CODE, None, _build, (CHLORINE, ACID),
    stops="acid; chlorine is cut to 60 % of usual use, spread over the hours",
    clears="for chlorine by itself after 24 h, or with a hand test of it; for acid only with hand tests of pH and alkalinity",
    why="a record that is lost or restored from a copy has forgotten what was fed, and with it every limit",
    fits=lambda site: any(feeder.node is None for feeder in site.feeders),
)  # fmt: skip
