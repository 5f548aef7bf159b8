"""Everything on a node broken at once, at several hours of a day and in two pools: what is called, and how much of it arrives.

    python -m tests.benchmarks.node_broken          (about two minutes)

The real step and the real caller, with receivers on loopback; two persons with two ways each, nobody answers. Of each run:
the calls with their first cause, and the most messages that one person got over one way within 15 minutes. Asserts nothing.
"""

import logging
import tempfile
import time
from collections import defaultdict
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

from dosectl.daemon.confirmation import Sheets
from dosectl.daemon.record import Recorder
from dosectl.model.call_log import Outcome
from dosectl.model.instant import Instant
from dosectl.model.signals import NodeReport, Sample
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.loop import ClosedLoop, demo_loaded
from dosectl.store.journal import Journal
from tests.notify.people import Hands, person
from tests.notify.receivers import HttpReceiver
from tests.notify.test_caller import Desk

STEP_S = 10.0
LOOK_STEPS = 3
BROKEN_AT_H = (1.5, 4.0, 7.0, 10.0, 14.0, 20.0)
STAYS_H = 3.0
WINDOW = timedelta(minutes=15)


class BreakableLoop(ClosedLoop):
    """The node may go silent: no report, and nothing of what is wired to it."""

    silent = False

    def _samples(self, now: Instant) -> tuple[Sample, ...]:
        slow = () if now.mono_s % 60.0 == 0.0 else ("water_temp", "acid_level", "hypo_level", "salt")  # sent each minute
        return () if self.silent else tuple(s for s in super()._samples(now) if s.signal not in slow)

    def _reports(self, now: Instant) -> tuple[NodeReport, ...]:
        return () if self.silent else super()._reports(now)


def run(folder: Path, hypochlorite: bool, broken_h: float) -> Iterator[str]:
    """One run; its lines."""
    loaded = demo_loaded(hypochlorite)
    loop = BreakableLoop.of(loaded, PoolPlant(quince_house(hypochlorite), QUINCE_HOUSE_START, 7), step_s=STEP_S, use_mg_l_day=2.4)
    assert isinstance(loop, BreakableLoop)
    for quantity in ("free_chlorine", "ph"):
        loop.water_test(quantity, "drops")
    loop.ask("refill", (("feeder", "acid"), ("container_ml", 5000.0)))
    journal = Journal.open(folder / "pool.journal")
    journal.mark_start(loop.plant.utc, 0.0)
    recorder = Recorder(journal, loop.plan.site, Sheets.of(None, loaded), None, dry=False)
    hands = Hands(loop.plant.utc)
    receivers = [HttpReceiver() for _ in range(4)]
    anna = person("anna", 1, receivers[0].url, receivers[1].url)
    bert = person("bert", 2, receivers[2].url, receivers[3].url, knows_pool=False)
    desk = Desk(_At(journal.path), hands, anna, bert)  # type: ignore[arg-type] - of a pool it takes the record's path
    calls: list[str] = []
    for number, moment in enumerate(loop.run(broken_h + STAYS_H)):
        loop.silent = number * STEP_S >= broken_h * 3600.0
        recorder.record(moment.state, moment.decision, moment.snapshot)
        hands.at = moment.snapshot.now.utc
        for call in moment.decision.calls:
            after_min = (number * STEP_S - broken_h * 3600.0) / 60.0
            inside = f", with {', '.join(call.folded)}" if call.folded else ""
            calls.append(f"{call.code} ({call.change}, {after_min:.0f} min after{inside})")
        if number % LOOK_STEPS == 0 and loop.silent:
            journal.flush()
            desk.settle()
    most = _most(desk)
    folded = sorted({item.code for item in loop.state.durable.alarms.calls.folded})
    name = f"{'pump' if hypochlorite else 'cell'}, broken {(loop.plant.utc - timedelta(hours=STAYS_H)):%H:%M} UTC"
    yield f"{name}: {len(calls)} call(s): {'; '.join(calls)}"
    yield f"  folded into it by the end: {', '.join(folded) or 'nothing'}"
    yield f"  most messages in 15 min: {', '.join(f'{who} over {way} {count}' for (who, way), count in sorted(most.items()))}"
    desk.outbox.close()
    journal.close()
    for receiver in receivers:
        receiver.close()


class _At:
    def __init__(self, path: Path) -> None:
        self.path = path


def _most(desk: Desk) -> dict[tuple[str, str], int]:
    """The most messages within any 15 minutes, by person and way."""
    sent: dict[tuple[str, str], dict[str, datetime]] = defaultdict(dict)
    for item in desk.outbox.attempts(desk.hands.now() - timedelta(hours=STAYS_H)):
        if item.outcome is Outcome.TAKEN:
            sent[item.person, item.route][item.message] = item.begun
    return {key: max(sum(at <= b < at + WINDOW for b in times.values()) for at in times.values()) for key, times in sent.items()}


def main() -> None:
    logging.disable(logging.WARNING)
    began = time.monotonic()
    for hypochlorite in (False, True):
        for broken_h in BROKEN_AT_H:
            with tempfile.TemporaryDirectory() as folder:
                print("\n".join(run(Path(folder), hypochlorite, broken_h)), flush=True)
    print(f"{2 * len(BROKEN_AT_H)} runs in {time.monotonic() - began:.0f} s")


if __name__ == "__main__":
    main()
