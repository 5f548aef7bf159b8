"""Other settings on recorded days: the controller's own step, held against the pool of the record.

A replay begins as after a restart, with what the controller has learnt of this pool by now, with the tests, the ledger and the
use of the time before those days, every feeder taken as proven, and nothing stopped or tripped. What the guards had seen of the
probes they see in the two days before, as far as those are on record. What people entered in those days is entered again.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import log

from dosectl.core.control.acid import LEAST_ALKALINITY_MG_L
from dosectl.core.controller.begin import fresh_durable
from dosectl.core.controller.plan import Plan
from dosectl.core.controller.state import Clocks, Durable
from dosectl.core.controller.uses import DayCount
from dosectl.core.estimate.chlorine import CYA_SHIFT_MG_L, DAY_S
from dosectl.core.estimate.state import CHLORINE, DRIFT, OFFSET, STABILISER, Estimate
from dosectl.core.interlocks.guard import Memory
from dosectl.core.site import Site
from dosectl.model.feeds import Substance
from dosectl.model.ledger import Ledger
from dosectl.model.reasons import Facts
from dosectl.model.requests import Place
from dosectl.model.signals import SignalId, SignalKind
from dosectl.rehearsal.loop import ClosedLoop, Moment, plan_of
from dosectl.rehearsal.own_pool import taken_as_proven
from dosectl.rehearsal.past import Past
from dosectl.rehearsal.recorded_acidity import Learnt
from dosectl.rehearsal.recorded_pool import FREE_LEAST_MG_L, RecordedPool
from dosectl.rehearsal.tally import Counting, Tally
from dosectl.settings.load import Loaded
from dosectl.store.views import RequestLine

PLAYED = {
    "water_test", "withdraw_test", "added_by_hand", "refill", "calibrated", "replaced", "stop", "release", "service_on",
    "service_off", "close_season", "go_away", "come_back",
}  # fmt: skip
"""Requests that say something of the water or of the plant; answers to alarms, proofs and trips are not those of a replay."""


@dataclass(frozen=True, slots=True)
class Kept:
    """What the record knows by now. at : aware UTC of its newest step"""

    durable: Durable
    at: datetime


@dataclass(frozen=True, slots=True)
class Seen:
    """What guards remember at the start of the recorded days; no trip is among it."""

    clocks: Clocks
    memories: tuple[tuple[str, Memory], ...]


def seen_before(loaded: Loaded, before: Past, kept: Kept) -> Seen:
    """Of days that end where a replay begins, by the installation's own settings. What is decided in them changes no water."""
    plan = plan_of(replace(loaded, site=replace(loaded.site, simulated=True)), 60.0)
    pool = RecordedPool(before, Learnt(plan.estimate, kept.durable.estimate, kept.at), plan.site, fed_otherwise=False)
    durable = wound_back(plan, before, kept, pool)
    loop = ClosedLoop(plan, pool, _names(plan.site), durable.standing, durable=durable)
    for _ in range(before.minutes):
        loop.one()
    memories = tuple((key, replace(memory, latched=None)) for key, memory in loop.state.durable.memories)
    return Seen(replace(loop.state.durable.clocks, starts_s=()), memories)


def _names(site: Site) -> dict[SignalId, str]:
    return {SignalId(signal.id): f"id:{signal.id}" for signal in site.signals}


class Replay:
    """One settings file on the recorded days."""

    def __init__(self, loaded: Loaded, past: Past, kept: Kept, seen: Seen | None = None) -> None:
        site = replace(loaded.site, simulated=True)
        plan = plan_of(replace(loaded, site=site), 60.0)
        learnt = Learnt(plan.estimate, kept.durable.estimate, kept.at)
        self.pool = RecordedPool(past, learnt, site)
        durable = wound_back(plan, past, kept, self.pool)
        if seen is not None:
            durable = replace(durable, clocks=seen.clocks, memories=seen.memories)
        self.loop = ClosedLoop(plan, self.pool, _names(site), durable.standing, durable=durable)
        self._past = past
        self._asked = [line for line in past.asked if str(line.kind) in PLAYED]
        self._counting = Counting(site, plan.control)

    def run(self) -> Tally:
        """Plays all of the recorded days."""
        for _ in self.moments():
            pass
        return self._counting.tally

    def moments(self) -> Iterator[Moment]:
        """As `run`, giving each moment."""
        for _ in range(self._past.minutes):
            while self._asked and self._asked[0].at <= self.pool.utc:
                self._ask(self._asked.pop(0))
            moment = self.loop.one()
            self._counting.count(moment)
            yield moment

    def _ask(self, line: RequestLine) -> None:
        facts: Facts = line.arguments
        if str(line.kind) == "water_test":
            said = dict(facts)
            value = self.pool.would_have_read(str(said["quantity"]), float(str(said["value"])))
            facts = tuple({**said, "value": value, "as_said": True}.items())
        if str(line.kind) == "refill":
            self.pool.refilled(str(dict(facts)["feeder"]))
        self.loop.ask(str(line.kind), facts, Place(line.place), line.request)


def wound_back(plan: Plan, past: Past, kept: Kept, pool: RecordedPool) -> Durable:
    """What the controller knew of the pool's past when those days began, and what it has learnt of the pool by now."""
    durable, clocks = kept.durable, kept.durable.clocks
    days = (kept.at - past.start) / timedelta(days=1)
    clock_s = max(0.0, clocks.clock_s - DAY_S * days)
    flows = past.of_kind(SignalKind.FLOW)
    flow_s = 60.0 * sum(value for value in flows or () if value == value)
    standing = replace(
        taken_as_proven(plan.site, None),
        daily_use_mg_l=durable.standing.daily_use_mg_l,
        refills=tuple(refill for refill in durable.standing.refills if refill[1] < clock_s),
        calibrated=tuple(item for item in durable.standing.calibrated if item[1] < clock_s),
        replaced=tuple(item for item in durable.standing.replaced if item[1] < clock_s),
        poured=tuple(pour for pour in durable.standing.poured if pour.entered_s < clock_s),
    )
    tests = tuple(test for test in durable.tests if test.entered_s < clock_s and not test.withdrawn)
    fresh = fresh_durable(plan)
    return replace(
        fresh,
        clocks=replace(
            clocks, clock_s=clock_s, flow_clock_s=max(0.0, clocks.flow_clock_s - flow_s), starts_s=(), utc_trusted=True
        ),
        ledger=_ledger_before(durable.ledger, fresh.ledger, clock_s),
        standing=standing,
        tests=tests,
        estimate=_estimate_then(durable.estimate, pool, clock_s, _alkalinity_since(plan, past, durable, clock_s), days),
        days=DayCount(began_s=clock_s),
        habit=durable.habit,
        beside=tuple(item for item in durable.beside if item.at_s < clock_s),
        absences=tuple(
            replace(item, ended=None, ended_s=None) if item.ended is not None and item.ended > past.start else item
            for item in durable.absences
            if item.begun < past.start
        ),
    )


def _alkalinity_since(plan: Plan, past: Past, durable: Durable, clock_s: float) -> float:
    """What acid has taken of the alkalinity since, less what was put in. [mg/L]"""
    now_s = durable.clocks.clock_s
    taken = durable.ledger.window_g(Substance.ACID, now_s, now_s - clock_s) / plan.site.pool.volume_m3
    return taken - past.poured_since(0.0)[1]


def _estimate_then(estimate: Estimate, pool: RecordedPool, clock_s: float, alkalinity_mg_l: float, days: float) -> Estimate:
    """As it is now, of the water that was believed then; its hours and the tests in them are not those of a replay."""
    water = pool.truth()
    mean = list(estimate.mean)
    mean[CHLORINE] = log(max(FREE_LEAST_MG_L, water.free_chlorine_mg_l))
    mean[STABILISER] = log(water.cya_mg_l + CYA_SHIFT_MG_L)
    mean[OFFSET] -= mean[DRIFT] * days
    seen, tested = estimate.orp_seen_s, estimate.tested_s
    return replace(
        estimate,
        mean=tuple(mean),
        updated_s=clock_s,
        ph=(water.ph, *estimate.ph[1:]),
        alkalinity_mg_l=max(LEAST_ALKALINITY_MG_L, estimate.alkalinity_mg_l + alkalinity_mg_l),
        temp_c=water.temp_c,
        misfit_s=0.0,
        hour=None,
        history=(),
        tests=(),
        doubted=(),
        taught=(),
        orp_seen_s=None if seen is None else min(seen, clock_s),
        tested_s=None if tested is None else min(tested, clock_s),
        surprise=0.0,
        misread_mv=0.0,
        salt=None,
        dead_s=0.0,
        cover_closed=None,
    )


def _ledger_before(ledger: Ledger, fresh: Ledger, clock_s: float) -> Ledger:
    """Without what was booked since; feeders that only the tried settings have begin with nothing."""
    books = {book.feeder: book for book in fresh.feeders}
    for book in ledger.feeders:
        kept = tuple(pair for pair in zip(book.times_s, book.totals_g, strict=True) if pair[0] < clock_s)
        times_s, totals_g = tuple(time_s for time_s, _ in kept), tuple(total_g for _, total_g in kept)
        books[book.feeder] = replace(book, times_s=times_s, totals_g=totals_g, open=None)
    return Ledger(tuple(books.values()), ledger.next_no)


def as_recorded(loaded: Loaded, past: Past, kept: Kept) -> Tally:
    """What the record itself shows of those days, counted as a replay's; alarms, starts and guards are the caller's to count."""
    plan = plan_of(loaded, 60.0)
    pool = RecordedPool(past, Learnt(plan.estimate, kept.durable.estimate, kept.at), loaded.site)
    counting = Counting(loaded.site, plan.control)
    for minute in range(past.minutes):
        pool.utc = past.start + timedelta(minutes=minute)
        counting.count_water(pool.truth())
    return counting.tally
