"""Closed cover: without sun and bathers the chlorine stays, so less is made, and never so little that the pool goes dead.

What is fed from the closing on is bounded over a rolling day: to the fall-back's rate, by which a pool of small losses is bounded
anyway; to 1.3 times the usual use, at least that of a new pool, while the ORP electrode answers, by the evidence that the learned
use has: a pool that lies warm under its cover takes more than it did before. A cell makes hydrogen, which a closed cover keeps:
its own hour is bounded too, so that the day's amount takes eight hours.

At a fifth of a cell's output, as cells run under a cover by common practice, a warm covered pool of no fault was empty in a week.
"""

from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import moment
from dosectl.core.interlocks.fallback import rate_mg_l_day
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.interlocks.shown import most_by_tests
from dosectl.core.interlocks.slow_side import BAD, FINE, HOUR_S, sided, steady
from dosectl.core.interlocks.swing import NEVER_S, UNMOVED, followed, moved_both_ways
from dosectl.core.interlocks.usage import DAY_S, RAISED_TIMES, USUAL_CHLORINE_MG_L, median_day_mg_l
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalId, SignalKind, Status
from dosectl.model.verdicts import Limit, Permit, Verdict

CODE = Code("cover.closed")
PERMIT = Permit(CODE)
OPEN_S = 600.0
UNHEARD_S = HOUR_S  # a cover is closed within minutes, and what it lets through in an hour is little
SPREAD_H = 8.0  # the hours of flow of a short day: in no fewer may a cell make the day's amount
LOW_MV = 3.0  # below what the electrode read with the cover open: in theory a fifth of the chlorine is gone
LOW_AGAIN_MV = 1.0
ANSWERED_S = 48 * HOUR_S  # as for the learned use
MOVED_MV = 2.5
KEEPS = 0.04  # share of a half-hour's mean in the value the electrode usually has: a day of flow
NEXT_MG_L = 0.25  # less than a reservation is left

CLOSED = ReasonKind(
    Code("cover.is_closed"),
    "The cover is closed (or not heard) since {since}: at most {limit_mg_l} mg/L of chlorine a day is fed, of "
    "which {left_mg_l} mg/L are left.",
)
HELD = ReasonKind(
    Code("cover.held"),
    "The cover is closed (or not heard) since {since}, the ORP reads {below_mv} mV lower than with it open, and of the limit "
    "under it, {limit_mg_l} mg/L of chlorine a day, {left_mg_l} mg/L are left. Test free chlorine by hand and enter it; uncover "
    "the pool.",
)


@dataclass(frozen=True, slots=True)
class CoverClosedParams:
    share: float = setting(
        0.2, ge=0.1, le=0.5, unit="share of a cell's full output", why="common practice: cells run at about a fifth under a cover"
    )


@dataclass(frozen=True, slots=True)
class CoverClosed:
    """One per chlorine feeder; the day is common to all of them, the hour a cell's own.

    Memory: count, since_s as in `slow_side`; recent and marks[0:4] = the electrode's swing; marks[4] = its mark; marks[5] = what
    the electrode reads with the cover open [mV], 0 where it is not known yet; marks[6] = how far below that it reads now
    [mV], 0 unless low.
    """

    feeders: tuple[FeederId, ...]
    signal: SignalId
    orp: SignalId | None
    full_mg_l_h: float  # of a cell; 0 for a pump
    share: float
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        reading = evidence.readings.get(self.signal)
        closed = None if reading is None else reading.switch()
        side = None if closed is None else (BAD if closed else FINE)
        memory = self._watched(evidence, self._sided(evidence, memory, side))
        if memory.count == FINE:
            return self.permit, memory
        return self._limit(evidence, memory), memory

    def _sided(self, evidence: Evidence, memory: Memory, side: int | None) -> Memory:
        mark = memory.marks[4] if len(memory.marks) > 4 else NEVER_S
        own = replace(memory, marks=() if mark == NEVER_S else (mark,))
        if steady(own, side):
            return memory
        after = sided(own, evidence.clock_s, side, 0.0, OPEN_S, UNHEARD_S)
        if after is own:
            return memory
        marks = memory.marks or (*UNMOVED, NEVER_S, 0.0, 0.0)
        return replace(after, marks=(*marks[:4], after.marks[0] if after.marks else NEVER_S, *marks[5:]))

    def _watched(self, evidence: Evidence, memory: Memory) -> Memory:
        """With the electrode's half-hour means followed: what it reads with the cover open, and how far below that it is."""
        if self.orp is None:
            return memory
        before = memory
        memory = followed(memory, evidence, self.orp, MOVED_MV)
        if memory.marks is before.marks:
            return memory
        reading = evidence.readings[self.orp].number(Status.OUT_OF_SPEC) or 0.0
        mean = (before.recent[2] + reading) / (before.recent[3] + 1.0)
        *swing, mark, usual, below = memory.marks if len(memory.marks) >= 7 else (*memory.marks[:4], NEVER_S, 0.0, 0.0)
        if usual == 0.0:
            usual = mean
        elif memory.count == FINE:
            usual += KEEPS * (mean - usual)
        under = usual - mean
        low = under >= (LOW_AGAIN_MV if below > 0.0 else LOW_MV)
        return replace(memory, marks=(*swing, mark, usual, round(under, 1) if low else 0.0))

    def _limit(self, evidence: Evidence, memory: Memory) -> Limit:
        marks = memory.marks if len(memory.marks) >= 7 else (*UNMOVED, NEVER_S, 0.0, 0.0)
        closed_s = marks[4] if memory.count == BAD and marks[4] != NEVER_S else None
        rate, below_mv, most = rate_mg_l_day(evidence), marks[6], most_by_tests(evidence)
        if moved_both_ways(memory, evidence.flow.clock_s, ANSWERED_S) and not (most is not None and most >= 1.0):
            rate = max(rate, RAISED_TIMES * max(median_day_mg_l(evidence), USUAL_CHLORINE_MG_L))
        volume_m3 = evidence.site.pool.volume_m3
        # What was fed with the cover open met the losses of an open pool.
        window_s = DAY_S if closed_s is None else min(DAY_S, evidence.clock_s - closed_s)
        day_g = rate * volume_m3 - evidence.ledger.window_g(Substance.CHLORINE, evidence.clock_s, window_s)
        left_g = max(0.0, day_g)
        left_mg_l = round(left_g / volume_m3, 2)
        if self.full_mg_l_h > 0.0:
            hour_mg_l = max(self.share * self.full_mg_l_h, rate / SPREAD_H)
            (feeder,) = self.feeders
            left_g = min(left_g, max(0.0, hour_mg_l * volume_m3 - evidence.ledger.of(feeder).window_g(evidence.clock_s, HOUR_S)))
        since, limit = moment(evidence, closed_s), round(rate, 2)
        if below_mv > 0.0 and day_g < NEXT_MG_L * volume_m3:
            return Limit(CODE, left_g, HELD.because(since, limit_mg_l=limit, left_mg_l=left_mg_l, below_mv=below_mv))
        return Limit(CODE, left_g, CLOSED.because(since, limit_mg_l=limit, left_mg_l=left_mg_l))


def _build(site: Site, params: CoverClosedParams) -> tuple[CoverClosed, ...]:
    signal, orp = site.first(SignalKind.COVER), site.first(SignalKind.ORP)
    if signal is None:
        return ()

    def one(feeder: Feeder) -> CoverClosed:
        full = feeder.rate_g_s * HOUR_S / site.pool.volume_m3 if feeder.kind == "cell" else 0.0
        return CoverClosed((feeder.id,), signal.id, None if orp is None else orp.id, full, params.share)

    return tuple(one(feeder) for feeder in site.feeders if feeder.substance is Substance.CHLORINE)


def _lacks(site: Site, _params: CoverClosedParams) -> bool:
    """Settings tell of a cover that no signal tells of."""
    return site.pool.covered and site.first(SignalKind.COVER) is None


KIND = GuardKind(
    CODE, CoverClosedParams, _build, (CLOSED, HELD),
    stops="limits chlorine to the fall-back's rate a day, or 1.3 times usual use while the ORP answers; a cell's hour as well",
    clears="by itself after 10 min open",
    why="losses under a cover are a fraction of those in the sun; but none is no loss, and a pool left dead is a hazard too",
    lacks=_lacks,
    fits=lambda site: bool(site.feeding(Substance.CHLORINE)),
)  # fmt: skip
