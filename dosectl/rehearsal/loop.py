"""The closed loop without I/O: the very step of the daemon against any plant that satisfies the public Protocol.

Another model of a pool, or a recorded log, stands in by offering `pool_model.protocol.Plant`; see its docstring for an example.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from tomllib import loads

from dosectl.core.alarms.states import AlarmChange
from dosectl.core.controller.begin import StartOf, begin, fresh_durable
from dosectl.core.controller.decision import Decision
from dosectl.core.controller.plan import Plan
from dosectl.core.controller.state import Durable, State
from dosectl.core.controller.step import step
from dosectl.core.evidence import Proof, Standing
from dosectl.core.interlocks.registry import build as build_guards
from dosectl.core.interlocks.registry import unable
from dosectl.core.site import Site
from dosectl.model.feeds import FeedOn, Substance
from dosectl.model.instant import Instant
from dosectl.model.reasons import Code, Facts
from dosectl.model.requests import Place, Request, RequestId
from dosectl.model.signals import ForeignCommand, Health, NodeReport, Sample, SignalId
from dosectl.model.snapshot import Snapshot
from dosectl.pool_model.protocol import Plant, Truth
from dosectl.rehearsal.demo_settings import demo_settings
from dosectl.settings.bindings import SignalBinding
from dosectl.settings.load import Loaded, loaded_from

HEALTHY = Health(journal_ok=True, free_bytes=10**10, bus_alive=True, echo_age_s=0.5, clock_trusted=True)
BOOT = "rehearsal"
RENEWED_BEFORE_S = 1.0  # the end of a command's life


@dataclass(frozen=True, slots=True)
class Moment:
    """One step of the loop: what came in, what was decided and what the water really was."""

    decision: Decision
    truth: Truth
    state: State
    snapshot: Snapshot


def demo_loaded(hypochlorite: bool = False, change: Callable[[str], str] = lambda text: text) -> Loaded:
    """The demo's settings, for closed loops; `change` edits the TOML text before it is read."""
    return loaded_from(loads(change(demo_settings("127.0.0.1", 1883, "5", hypochlorite))), Path("rehearsal.toml"))


def plan_of(loaded: Loaded, step_s: float) -> Plan:
    """The plan with commands that live two steps, each judgement renewing them: a loop of long steps can't renew each 5 s."""
    site = replace(loaded.site, renew_s=min(loaded.site.renew_s, step_s), expires_s=2.0 * step_s)
    params = loaded.params
    figures = {Code(code): chosen for code, chosen in params["guards"].items()}
    guards, blind = build_guards(site, figures), unable(site, figures)
    return Plan(site, params["probes"], guards, params["estimate"], params["control"], params["alarms"], blind)


def proven(site: Site, use_mg_l_day: float | None = None) -> Standing:
    """Every feeder proven (for simulated nodes only) and confirmed; with 14 accepted days of use, or a new installation."""
    proofs = tuple(Proof(f.id, f.digest, str(f.node or ""), True, True, "", "rehearsal") for f in site.feeders)
    confirmed = tuple((f.id, f.digest) for f in site.feeders)
    use = () if use_mg_l_day is None else ((Substance.CHLORINE, (use_mg_l_day,) * 14),)
    return Standing(proofs=proofs, confirmed=confirmed, daily_use_mg_l=use)


class ClosedLoop:
    """Steps plant and controller together.

    names : our signal id to the plant's signal name; a name the plant does not send is silence
    """

    def __init__(
        self,
        plan: Plan,
        plant: Plant,
        names: Mapping[SignalId, str],
        standing: Standing,
        step_s: float = 60.0,
        durable: Durable | None = None,
    ) -> None:
        """durable : what is known already, its standing left out; None: nothing"""
        self.plan = plan
        self.plant = plant
        self._names = dict(names)
        self._step_s = step_s
        self._elapsed_s = 0.0
        self._number = 0
        self._asked = 0
        self._requests: list[Request] = []
        self._levels: dict[str, tuple[float, float]] = {}
        self.health = HEALTHY
        known = replace(durable or fresh_durable(plan), standing=standing)
        self.state = begin(plan, known, StartOf(self._now(), 0.0, clean=True))

    @classmethod
    def of(cls, loaded: Loaded, plant: Plant, *, step_s: float = 60.0, use_mg_l_day: float | None = None) -> "ClosedLoop":
        """A loop of settings and plant; the settings' JSON pointers name the plant's signals."""
        plan = plan_of(loaded, step_s)
        names = {binding.signal: _name(binding) for binding in loaded.bindings}
        return cls(plan, plant, names, proven(plan.site, use_mg_l_day), step_s)

    def _now(self) -> Instant:
        return Instant(self._elapsed_s, self.plant.utc, BOOT)

    def ask(self, kind: str, facts: Facts, place: Place = Place.CONSOLE, request: str | None = None) -> None:
        """A person's request, for the next step. request : its id, None for one of our own"""
        self._asked += 1
        expires = self.plant.utc + timedelta(minutes=5)
        self._requests.append(Request(RequestId(request or f"r{self._asked}"), Code(kind), facts, "rehearsal", place, expires))

    def water_test(self, quantity: str, method: str, name: str | None = None) -> float:
        """A water test by hand, with its method's error, entered at once. Returns what was read."""
        value = self.plant.manual_test(quantity, method)
        facts: Facts = (("quantity", quantity), ("value", value), ("method", name or method), ("as_said", True))
        self.ask("water_test", facts)
        return value

    def run(self, hours: float) -> Iterator[Moment]:
        """Steps for so many hours, giving each moment."""
        end_s = self._elapsed_s + hours * 3600.0
        while self._elapsed_s < end_s - 1e-6:
            yield self.one()

    def one(self) -> Moment:
        """One step: the plant moves on under the last commands, its signals arrive, the controller decides.

        Where a command would die within the step, as a reservation holds no more, it is judged anew just before, as the
        daemon does each 5 s. The alarms of such a judgement are with those of the step.
        """
        left_s, alarms = self._step_s, list[AlarmChange]()
        while True:
            span_s = self._until_renewal_s(left_s)
            self._advance(span_s)
            left_s -= span_s
            moment = self._judged()
            if left_s <= 1e-6:
                return replace(moment, decision=replace(moment.decision, alarms=(*alarms, *moment.decision.alarms)))
            alarms.extend(moment.decision.alarms)

    def _until_renewal_s(self, left_s: float) -> float:
        """The rest of the step, or less where a command has to be judged anew before. [s]"""
        lives = [life_s - RENEWED_BEFORE_S for _, life_s in self._levels.values()]
        return min([left_s, *(life_s for life_s in lives if life_s > 1e-6)])

    def _judged(self) -> Moment:
        now = self._now()
        requests, self._requests = tuple(self._requests), []
        self._number += 1
        facts = (self._samples(now), self.health, requests)
        snapshot = Snapshot(self._number, now, *facts, nodes=self._reports(now), foreign=self._foreign(now))
        self.state, decision = step(self.plan, self.state, snapshot)
        asked = [command for command in decision.commands if isinstance(command, FeedOn)]
        self._levels = {str(item.feeder): (item.level, self._life_s(item)) for item in asked}
        self.plant.advance(0.0, {feeder: level for feeder, (level, _) in self._levels.items()})
        return Moment(decision, self.plant.truth(), self.state, snapshot)

    def _life_s(self, command: FeedOn) -> float:
        """How long the node goes on: what is not sent renews nothing. [s]"""
        return command.expires_s if command.send else self._levels.get(str(command.feeder), (0.0, 0.0))[1]

    def _advance(self, left_s: float) -> None:
        """So much time, with each feed ending at the node when its command's life ends."""
        self._elapsed_s += left_s
        while left_s > 1e-6:
            alive = {feeder: level for feeder, (level, life_s) in self._levels.items() if life_s > 1e-6}
            span_s = min([left_s, *(life_s for _, life_s in self._levels.values() if life_s > 1e-6)])
            self.plant.advance(span_s, alive)
            self._levels = {feeder: (level, life_s - span_s) for feeder, (level, life_s) in self._levels.items()}
            left_s -= span_s

    @property
    def _faults(self) -> tuple[str, ...]:
        """Faults that only messages can show; a plant of another make has none."""
        return tuple(getattr(self.plant, "faults", ()))

    def _foreign(self, now: Instant) -> tuple[ForeignCommand, ...]:
        first = self.plan.site.feeders[0].id
        return (ForeignCommand(f"feeder/{first}/command", "another", now),) if "second_controller" in self._faults else ()

    def _samples(self, now: Instant) -> tuple[Sample, ...]:
        sent = self.plant.signals()
        samples: list[Sample] = []
        for signal, name in self._names.items():
            value = sent.get(name)
            if value is not None:
                samples.append(Sample(signal, value, now))
        return tuple(samples)

    def _reports(self, now: Instant) -> tuple[NodeReport, ...]:
        if "node_silent" in self._faults:
            return ()
        nodes = dict.fromkeys(feeder.node for feeder in self.plan.site.feeders if feeder.node is not None)
        return tuple(
            NodeReport(node, BOOT, int(self._elapsed_s * 1000), self.plan.site.ident, True, now)
            for node in nodes
            if node is not None
        )


def _name(binding: SignalBinding) -> str:
    return (binding.pointer or binding.topic).rsplit("/", 1)[-1]


def day_of(moment: datetime) -> str:
    """The UTC day, for tables."""
    return moment.date().isoformat()
