"""Joins everything for one plan: settings, journal, bus, clock, step and effects."""

import json
import logging
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from dosectl.bus.client import Bus
from dosectl.bus.items import ForeignItem, Item, RequestItem, TickItem
from dosectl.bus.wiring import wiring_of
from dosectl.core.controller.begin import StartOf, begin
from dosectl.core.controller.plan import Plan
from dosectl.core.controller.state import State
from dosectl.core.interlocks.arbiter import all_off
from dosectl.core.interlocks.registry import build as build_guards
from dosectl.core.interlocks.registry import unable
from dosectl.daemon.away import Away
from dosectl.daemon.calendar import Calendar
from dosectl.daemon.calling import Calling, named
from dosectl.daemon.clock import Clock, SystemClock, TickClock
from dosectl.daemon.confirmation import CONFIRMED_PART, Sheets, self_confirmed
from dosectl.daemon.core_loop import CoreLoop, End, Ports
from dosectl.daemon.dry_feedback import DryFeedback
from dosectl.daemon.effects import DrySink, Effects, FeedSink
from dosectl.daemon.inbox import Inbox, Queued, Signalled
from dosectl.daemon.known_feeders import refuse_other_substance
from dosectl.daemon.parts import durable_from
from dosectl.daemon.record import Recorder
from dosectl.daemon.reminding import Reminding
from dosectl.daemon.teller import BusTeller
from dosectl.daemon.upkeep import Upkeep
from dosectl.daemon.watchdog import ServiceManager
from dosectl.forward.sender import Forwarder
from dosectl.model.feeds import FeedOff, FeedOn
from dosectl.model.instant import Instant
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import Health
from dosectl.settings.load import Loaded
from dosectl.store.durable import StoredState
from dosectl.store.entry import JournalEntry
from dosectl.store.faults import JournalError
from dosectl.store.journal import Journal
from dosectl.store.outbox import TelemetryOutbox
from dosectl.texts.render import Texts

log = logging.getLogger("dosectl.daemon")


FAILED = ReasonKind(
    Code("daemon.step_failed"), "The step failed, so every feeder was told OFF. This is a defect: report it with the record."
)


class BusSink:
    """Commands over the bus."""

    def __init__(self, bus: Bus) -> None:
        self._bus = bus

    def off(self, command: FeedOff) -> None:
        self._bus.command(command)

    def on(self, command: FeedOn) -> bool:
        return self._bus.command(command)


ANSWERED_BY_WATER = ("acid.response", "chlorine.response", "response.wrong_way")
"""Guards that expect the water to answer a feed. In a dry run nothing is fed, so they would latch on a healthy pool."""


def plan_of(loaded: Loaded, dry_run: bool = False) -> Plan:
    """The step's plan out of the settings; a dry run's lacks the guards that wait for an answer of the water."""
    params = {Code(code): chosen for code, chosen in loaded.params["guards"].items()}
    guards = build_guards(loaded.site, params)
    return Plan(
        site=loaded.site,
        probes=loaded.params["probes"],
        guards=tuple(g for g in guards if not (dry_run and str(g.code).startswith(ANSWERED_BY_WATER))),
        estimate=loaded.params["estimate"],
        control=loaded.params["control"],
        alarms=loaded.params["alarms"],
        unable=unable(loaded.site, params),
    )


@dataclass(frozen=True, slots=True)
class Options:
    """How to run: `dry_run` commands nothing and keeps a journal of its own; `broker_up_s` only for tests."""

    dry_run: bool = False


class Installation:
    """One running plan. `run` returns why it ended; the caller builds another for a reload."""

    def __init__(self, loaded: Loaded, options: Options, manager: ServiceManager, inbox: Inbox) -> None:
        self.loaded = loaded
        self.options = options
        self.plan = plan_of(loaded, options.dry_run)
        site = loaded.site
        self.texts = Texts(site.pool.time_zone)
        self._manager = manager
        self._inbox = inbox
        path = loaded.journal_path
        self.journal = Journal.open(path.with_name(path.name + ".dry") if options.dry_run else path)
        stored = self._stored_for(loaded)
        self.clock: Clock = TickClock(f"tick-{site.ident}") if site.simulated else SystemClock()
        self.bus = Bus(
            loaded.broker,
            wiring_of(site, loaded.bindings, loaded.relays, demo=site.simulated),
            self._put,
            self._stamp,
        )
        self.sender = None
        if loaded.forward is not None:
            journal_path = self.journal.path
            self.sender = Forwarder(loaded.forward, lambda: TelemetryOutbox(journal_path), (JournalError,))
        self.calling = None if options.dry_run else Calling(loaded, self.journal.path, self.clock, self.texts)
        self.away = Away(self.journal.path, site, None if self.calling is None else self.calling.line)
        self.upkeep = Upkeep(self.journal.path, site, self.bus.publish_summary, self.away.week)
        self.calendar = Calendar(
            site.pool.time_zone, lambda word: inbox.put(Signalled(word)), self._calendar_fault, ticked=site.simulated
        )
        self.reminding = None if options.dry_run else Reminding(loaded)
        self._faults: set[Code] = set()
        sink: FeedSink = DrySink() if options.dry_run else BusSink(self.bus)
        self.teller = BusTeller(self.bus, site, self.texts, self._extra)
        self.sheets = Sheets.of(stored.parts.get(CONFIRMED_PART), loaded)
        recorder = Recorder(self.journal, site, self.sheets, settings_record(loaded), options.dry_run)
        self.effects = Effects(sink, recorder, self.teller)
        self._stored = stored
        self._loop: CoreLoop | None = None

    def _stored_for(self, loaded: Loaded) -> StoredState:
        try:
            stored = self.journal.load()
            refuse_other_substance(loaded, stored.ledger)
        except BaseException:
            self.journal.close()
            raise
        return stored

    def refuse(self, loaded: Loaded) -> None:
        """Raises SettingsError where the settings can't follow on what this plan has in its record."""
        refuse_other_substance(loaded, self._stored.ledger if self._loop is None else self._loop.state.durable.ledger)

    # --- pieces that other threads call ---

    def _put(self, item: Item) -> None:
        if isinstance(item, RequestItem):
            self.teller.asked(item)
            if isinstance(self.clock, TickClock):  # who asks knows only this machine's clock
                expires = self.clock.from_wall(item.request.expires_utc)
                item = replace(item, request=replace(item.request, expires_utc=expires))
        if isinstance(item, ForeignItem) and item.retained and not self.options.dry_run:
            self.bus.clear_retained(item.command.topic)  # else it comes again at each connection of each node
        for one in named(item, self.journal.path, self.clock.now().utc):
            self._inbox.put(one)

    def _stamp(self) -> Instant:
        return self.clock.now()

    def _calendar_fault(self, code: str) -> None:
        self._faults.add(Code(code))

    # --- evidence of our own ---

    def _health(self, dropped: int, queue_age_s: float, faults: tuple[Code, ...]) -> Health:
        return Health(
            journal_ok=self.effects.journal_ok,
            free_bytes=self.journal.free_bytes,
            bus_alive=self.bus.alive(),
            echo_age_s=self.bus.echo_age_s(),
            clock_trusted=self.clock.trusted(),
            dropped_samples=dropped,
            queue_age_s=queue_age_s,
            forward_backlog_s=None if self.sender is None else self.sender.backlog_s(),
            faults=(*faults, *self.bus.faults(), *self._calling_faults(), *sorted(self._faults)),
            persons=0 if self.loaded.notify is None else len(self.loaded.notify.persons),
        )

    def _calling_faults(self) -> tuple[Code, ...]:
        return (
            *(() if self.calling is None else self.calling.faults()),
            *(() if self.reminding is None else self.reminding.faults()),
        )

    def _extra(self) -> Mapping[str, Any]:
        return {
            "dry_run": self.options.dry_run,
            "guards": sorted({str(guard.code) for guard in self.plan.guards}),
            "bus": {"alive": self.bus.alive(), "protocol": self.bus.protocol},
            "journal": {"ok": self.effects.journal_ok, "error": self.effects.journal_error, "path": self.journal.path.name},
            "changes": [] if self._loop is None else self.sheets.shown(self._loop.state.durable.standing),
        }

    def _alive(self, recorded: bool) -> None:
        """A step is done. Where only a new start mends the record it is not reported, so that the service manager makes one."""
        if recorded or not self.effects.start_anew:
            self._manager.alive()
        if recorded and self.calling is not None and self._loop is not None:
            self.calling.alive(self._loop.step_no, self._loop.last)
        if recorded and self._loop is not None:
            self._after_step(self._loop.state)

    def _after_step(self, state: State) -> None:
        """What follows from a step besides its effects: who is away, and what the pool's own time makes due."""
        now = state.working.last.utc
        self.calendar.passed(now)
        self.away.after_step(state.durable, now)
        if self.calling is not None:
            self.calling.absences(state.durable.absences)

    # --- life ---

    def _begin(self) -> State:
        stored, now = self._stored, self.clock.now()
        kept = durable_from(self.plan, stored.parts, stored.ledger)
        off_s = 0.0
        if stored.last_utc is not None and self.clock.trusted() and not isinstance(self.clock, TickClock):
            off_s = max(0.0, (now.utc - stored.last_utc).total_seconds())
        state = begin(self.plan, kept, StartOf(now, off_s, stored.clean_stop))
        return self_confirmed(state, self.sheets)

    def run(self) -> End:
        """Connects, steps until told to end, with every feeder shown off at the end. A failing step puts all OFF and raises."""
        self.bus.start()
        self.calendar.start()
        if self.calling is not None:
            self.calling.start()
        if self.sender is not None:
            self.sender.start()
        try:
            self._await_clock()
            state = self._begin()
            self._record_start(state)
            if self.reminding is not None:
                self.reminding.renew(state.durable, state.working.last.utc)
            ports = Ports(
                self._health,
                self.teller.refused,
                lambda n: _ignored(self.bus.publish_done(n)),
                self._alive,
                self._work,
                self.calendar.clock_jumped,
                DryFeedback(self.plan.site) if self.options.dry_run else None,
            )
            loop = self._loop = CoreLoop(self.plan, state, self.clock, self._inbox, self.effects, ports)
            self._manager.ready(f"pool {self.loaded.site.pool.name}{', dry run' if self.options.dry_run else ''}")
            try:
                end = loop.run()
            except BaseException:
                self._all_off(loop)
                raise
            self._manager.stopping()
            self.effects.crash_point("draining")
            self._record_stop()
            self.effects.crash_point("closed")
            return end
        finally:
            self.close()

    def _record_start(self, state: State) -> None:
        """The start, and what changed in the settings since they were confirmed, in the record before anything is decided."""
        now, clock_s = self.clock.now(), state.durable.clocks.clock_s
        self.journal.mark_start(now.utc, clock_s)
        events = self.sheets.events(now)
        if events:
            self.journal.commit(JournalEntry(step_no=0, at_utc=now.utc, clock_s=clock_s, events=events), durable_now=True)

    def _record_stop(self) -> None:
        """Every feeder is off by now, so that a record that can't be written is no reason to end otherwise than in order."""
        try:
            self.journal.mark_clean_stop(self.clock.now().utc)
        except JournalError as error:
            log.error("the stop could not be recorded, so the next start counts as one after a crash: %s", error)

    def _await_clock(self) -> None:
        """A simulated pool's clock stands until its first tick: wait for it, so that the start has a moment."""
        if not isinstance(self.clock, TickClock):
            return
        early: list[Queued] = []
        while not self.clock.started():
            for item in self._inbox.take(0.2):
                if isinstance(item, TickItem):
                    self.clock.advance(item.mono_s, item.utc)
                    self.bus.publish_done(item.no)
                elif item == Signalled("stop"):
                    raise SystemExit(0)
                else:
                    early.append(item)
        for item in early:  # what came before, such as a stranger's retained command, is judged in the first step
            self._inbox.put(item)

    def _work(self, word: str, state: State) -> None:
        if word == "calls_test":
            self._test_calls()
        last = None if self._loop is None else self._loop.last
        if word == "day_summary" and last is not None:
            self.away.morning(state, last.control.target_mg_l)
        if word == "day_summary" and self.reminding is not None:
            self.reminding.renew(state.durable, state.working.last.utc)
        self.upkeep.do(word, state, self.journal)

    def _test_calls(self) -> None:
        try:
            if self.calling is not None:
                self.calling.monthly_test(self.clock.now().utc)
        except JournalError as error:
            log.error("the test of the calls could not be put out: %s", error)

    def _all_off(self, loop: CoreLoop) -> None:
        """The step failed: whatever it was doing, every feeder is told OFF before the process ends."""
        dispatch = tuple(loop.state.working.dispatch.values())
        commands, _ = all_off(dispatch, loop.state.durable.clocks.clock_s, FAILED.because(self.clock.now()))
        if not self.options.dry_run:
            for command in commands:
                self.bus.command(command)

    def close(self) -> None:
        """Lets everything go; safe after a failed start."""
        self.calendar.stop()
        if self.sender is not None:
            self.sender.stop()
        self.upkeep.stop()
        self.away.stop()
        if self.reminding is not None:
            self.reminding.stop()
        if self.calling is not None:
            self.calling.stop()
        self.bus.stop()
        self.journal.close()


def _ignored(_: bool) -> None:
    """For calls whose failure shows elsewhere: here the pool waits for its answer, and asks nothing else."""


def settings_record(loaded: Loaded) -> bytes:
    """The plan's safety-relevant fields as JSON, for the record."""
    return json.dumps(dict(loaded.fields), sort_keys=True).encode()
