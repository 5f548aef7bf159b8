"""From a decision to the journal's entry: only what changed is written."""

from dosectl.core.alarms.view import AlarmChange
from dosectl.core.controller.decision import Decision, feeder_why
from dosectl.core.controller.state import State
from dosectl.core.interlocks.arbiter import tightest
from dosectl.core.site import Site
from dosectl.daemon.confirmation import CONFIRMED_PART, Sheets
from dosectl.daemon.parts import changed_parts
from dosectl.model.feeds import FeedOff
from dosectl.model.reasons import Code
from dosectl.model.signals import Reading, SignalId
from dosectl.model.snapshot import Snapshot
from dosectl.model.telemetry import TelemetryPoint
from dosectl.model.verdicts import Denial
from dosectl.store.entry import AlarmRow, FeederDecision, JournalEntry, Outcome
from dosectl.store.journal import Journal

TELEMETRY_S = 60.0
FIGURES_S = 60.0
TRIP = Code("guard.trip")


class Recorder:
    """Writes each step. Remembers what was last committed, so that a failed commit loses nothing that the next one can bring."""

    def __init__(self, journal: Journal, site: Site, sheets: Sheets, plan: bytes | None, dry: bool) -> None:
        self._journal = journal
        self._site = site
        self._sheets = sheets
        self._plan = plan
        self._tags = (("pool", site.pool.pool_id), ("run", "dry" if dry else "live"))
        self._committed: State | None = None
        self._readings: dict[SignalId, Reading] = {}
        self._telemetry_due_s = 0.0

    def record(self, after: State, decision: Decision, snapshot: Snapshot) -> None:
        """Commits (or groups) the step. Raises JournalError where that fails; a debit is then not on the disk."""
        base = self._committed
        parts = changed_parts(base.durable if base is not None else None, after.durable)
        standing = after.durable.standing
        if base is None or base.durable.standing is not standing:
            parts = (*parts, (CONFIRMED_PART, self._sheets.part(standing)))
        ledger = after.durable.ledger if base is None or base.durable.ledger is not after.durable.ledger else None
        changed = tuple(reading for key, reading in decision.evidence.readings.items() if self._readings.get(key) is not reading)
        clock_s = after.durable.clocks.clock_s
        due = clock_s >= self._telemetry_due_s
        entry = JournalEntry(
            step_no=snapshot.step_no,
            at_utc=snapshot.now.utc,
            clock_s=clock_s,
            snapshot=snapshot,
            parts=parts,
            ledger=ledger,
            events=decision.events,
            commands=decision.commands,
            decisions=self._decisions(decision),
            alarms=tuple(_alarm_row(change) for change in decision.alarms),
            replies=decision.replies,
            calls=decision.calls,
            tests=after.durable.tests[len(base.durable.tests) :] if base is not None else (),
            telemetry=telemetry(self._tags, self._site, after, decision) if due else (),
            readings=changed,
            figures=_figures(decision) if due else (),
            keep=_keep(decision),
            plan_digest=self._site.digest,
            plan=self._plan,
        )
        self._journal.commit(entry, durable_now=decision.at_once)
        self._committed, self._plan = after, None
        self._readings.update((reading.signal, reading) for reading in changed)
        if due:
            self._telemetry_due_s = clock_s + TELEMETRY_S

    def _decisions(self, decision: Decision) -> tuple[FeederDecision, ...]:
        """One row per feeder: why it rests, what denies it, or why it feeds and which limit is the tightest."""
        rows: list[FeederDecision] = []
        for command in decision.commands:
            verdicts = decision.objections.get(command.feeder, ())
            if isinstance(command, FeedOff):
                denials = tuple(verdict.why for verdict in verdicts if isinstance(verdict, Denial))
                outcome = Outcome.WITHHELD if denials else Outcome.RESTING
                rows.append(FeederDecision(command.feeder, outcome, (command.why, *(w for w in denials if w is not command.why))))
                continue
            limit = tightest(verdicts)
            book = decision.evidence.ledger.of(command.feeder)
            room_g = limit.mass_g + (book.open.reserved_g if book.open else 0.0) if limit is not None else 0.0
            rate_g_s = self._site.feeder(command.feeder).rate_g_s * command.level
            bound = limit is not None and room_g < rate_g_s * self._site.expires_s
            why = feeder_why(decision, command.feeder)
            reasons = (why, limit.why) if limit is not None and bound else (why,)
            rows.append(FeederDecision(command.feeder, Outcome.LIMITED if bound else Outcome.FEEDING, reasons))
        return tuple(rows)


def _keep(decision: Decision) -> str:
    """Why the full inputs round this step must stay."""
    for event in decision.events:
        if event.code == TRIP:
            return str(dict(event.facts).get("guard", "trip"))
    return "request" if decision.replies else ("alarm" if decision.alarms else "")


def _alarm_row(change: AlarmChange) -> AlarmRow:
    return AlarmRow(
        code=change.code,
        occurrence=change.occurrence,
        change=change.change,
        priority=change.priority.name.lower(),
        present=change.present,
        acked=change.acked,
        latched=change.latched,
        facts=change.facts,
    )


def _figures(decision: Decision) -> tuple[tuple[str, float], ...]:
    water = decision.water
    return (
        ("free_chlorine_mg_l", water.free_chlorine_mg_l),
        ("free_chlorine_low95_mg_l", water.low95_mg_l),
        ("free_chlorine_high95_mg_l", water.high95_mg_l),
        ("target_mg_l", decision.control.target_mg_l),
        ("demand_mg_l_day", water.demand_mg_l_day),
    )


def telemetry(tags: tuple[tuple[str, str], ...], site: Site, after: State, decision: Decision) -> tuple[TelemetryPoint, ...]:
    """One point of the water, and one per feeder: what the time-series server keeps of this minute."""
    evidence = decision.evidence
    at = evidence.now.utc
    fields: list[tuple[str, float]] = [*_figures(decision), ("flow_proven", float(evidence.flow.proven))]
    for signal in site.signals:
        reading = evidence.readings.get(signal.id)
        if reading is not None and reading.value is not None:
            fields.append((str(signal.id), float(reading.value)))
    points = [TelemetryPoint("water", tags, tuple(fields), at)]
    for feeder in site.feeders:
        on = any(command.feeder == feeder.id and not isinstance(command, FeedOff) for command in decision.commands)
        total_mg_l = after.durable.ledger.of(feeder.id).total_g / site.pool.volume_m3
        points.append(
            TelemetryPoint("feeder", (*tags, ("feeder", str(feeder.id))), (("on", float(on)), ("fed_total_mg_l", total_mg_l)), at)
        )
    return tuple(points)
