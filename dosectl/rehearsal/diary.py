"""A household over a year: a diary of faults, somebody who is called and mends them, and what was heard.

Nobody looks at the pool between the weekly tests: a fault is mended only some hours after somebody was called of it, or on the
first weekly visit after seven days. Who is called does what the texts say: tests the water, lifts the alkalinity. The season is
closed and opened where a household is told when. Faults and their number are our own guess of a bad year for a home pool.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from dosectl.core.alarms.view import Priority
from dosectl.core.requests.changes import Answer
from dosectl.model.reasons import Code
from dosectl.rehearsal.loop import Moment
from dosectl.rehearsal.season import BICARBONATE_G_PER_MG_L_M3, Season

STEPS_A_DAY = 24 * 60
NIGHT_BEFORE = 13 * 60  # with the pump running, what is poured in looks like a siphon until it is entered
OPENING_MG_L = 3.0  # free chlorine that a pool is opened with; common practice
OPENING_PH, OPENING_ACID_ML_MAX = 7.5, 10_000.0
LIFTS_UNDER_MG_L = 70.0
ANSWERED_AFTER_H: Mapping[Priority, float] = {
    Priority.LOW: 14.0, Priority.MEDIUM: 8.0, Priority.HIGH: 2.0, Priority.CRITICAL: 0.25,
}  # fmt: skip
"""How long people take to answer a call of a priority: the digest is read the next day. Guesses."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One fault. day, hour : when it begins, from the run's start; mending_h : from the answer to the end of it.

    ends_h : it goes by itself after so long, called or not (power of the street, weather); None: it stays until mended
    """

    day: int
    hour: float
    fault: str
    mending_h: float = 6.0
    ends_h: float | None = None


@dataclass(frozen=True, slots=True)
class HeardAlarm:
    """One alarm, or one call of it, with the faults that stood."""

    at: datetime
    code: str
    priority: Priority
    faults: tuple[str, ...]


@dataclass(slots=True)
class Heard:
    """What was raised and called. mended : each entry with the hours until somebody was first called of anything."""

    alarms: list[HeardAlarm] = field(default_factory=list)
    calls: list[HeardAlarm] = field(default_factory=list)
    mended: list[tuple[Entry, float | None]] = field(default_factory=list)


@dataclass(slots=True)
class _Standing:
    entry: Entry
    begun: int
    called: int | None = None
    mended_at: int | None = None


class Household:
    """Runs a season with a diary. Steps are a minute."""

    def __init__(self, season: Season, diary: tuple[Entry, ...], closed: tuple[int, int] | None = None) -> None:
        """closed : days from the start on which the season is closed and opened again"""
        self.season = season
        self._closed = closed
        self.heard = Heard()
        self._diary = sorted(diary, key=lambda entry: (entry.day, entry.hour))
        self._standing: list[_Standing] = []
        self._step = 0
        self._answers: list[tuple[int, Answer]] = []

    def run(self, days: float) -> Heard:
        """Lets days pass."""
        for moment in self.season.moments(days):
            self._step += 1
            self._keep_season()
            self._begin()
            self._hear(moment)
            self._answer()
            self._mend(moment)
        self.heard.mended += [(item.entry, _hours(item)) for item in self._standing]
        return self.heard

    def _begin(self) -> None:
        while self._diary and self._step >= self._diary[0].day * STEPS_A_DAY + self._diary[0].hour * 60.0:
            entry = self._diary.pop(0)
            self.season.plant.set_fault(entry.fault, True)
            self._standing.append(_Standing(entry, self._step))

    def _keep_season(self) -> None:
        """Closes it in autumn; opens it with water put right by hand the night before, with the pump off, and entered."""
        if self._closed is None:
            return
        close, opens = (day * STEPS_A_DAY + 240 for day in self._closed)
        if self._step == close:
            self.season.loop.ask("close_season", ())
        if self._step == opens - NIGHT_BEFORE:
            truth, volume = self.season.plant.truth(), self.season.plant.params.water.volume_m3
            lacking = max(0.0, OPENING_MG_L - truth.free_chlorine_mg_l) * volume
            self.season.plant.add_by_hand("hypochlorite_125_g_l_ml", lacking / 0.125)
            bleach = (("product", "hypochlorite"), ("amount", round(lacking / 0.125)), ("strength_available_g_l", 125.0))
            self.season.loop.ask("added_by_hand", (*bleach, ("as_said", True)))
            lift = max(0.0, 100.0 - truth.alkalinity_mg_l) * volume * BICARBONATE_G_PER_MG_L_M3
            self.season.adds("bicarbonate", lift)
            self._acidify()
        if self._step == opens:
            self._test()
            self.season.loop.ask("release", ())

    def _acidify(self) -> None:
        """Brings a pool that rested with open air back to where people swim, by acid of 15 %, entered as such."""
        plant, used_ml = self.season.plant, 0.0
        while plant.truth().ph > OPENING_PH and used_ml < OPENING_ACID_ML_MAX:
            plant.add_by_hand("acid_15_ml", 200.0)
            used_ml += 200.0
        if used_ml:
            strength = (("strength_percent", 15.0), ("density_kg_l", 1.0725), ("as_said", True))
            self.season.loop.ask("added_by_hand", (("product", "acid"), ("amount", used_ml), *strength))

    def _test(self) -> None:
        for quantity in ("free_chlorine", "ph", "alkalinity"):
            self.season.loop.water_test(quantity, "drops")

    def _hear(self, moment: Moment) -> None:
        faults = tuple(item.entry.fault for item in self._standing)
        at = moment.decision.evidence.now.utc
        for change in moment.decision.alarms:
            if change.change in ("raised", "worse"):
                self.heard.alarms.append(HeardAlarm(at, str(change.code), change.priority, faults))
        for call in moment.decision.calls:
            priority = Priority(call.priority)
            self.heard.calls.append(HeardAlarm(at, str(call.code), priority, faults))
            wait_h = ANSWERED_AFTER_H.get(priority, 24.0)
            for code, occurrence in ((call.code, call.occurrence), *_folded(moment, call.folded)):
                self._answers.append((self._step + round(wait_h * 60.0), Answer(Code(code), occurrence, "owner")))
            for item in self._standing:
                if item.called is None:
                    item.called = self._step
                    item.mended_at = self._step + round((wait_h + item.entry.mending_h) * 60.0)

    def _answer(self) -> None:
        due = [answer for at, answer in self._answers if at <= self._step]
        self._answers = [(at, answer) for at, answer in self._answers if at > self._step]
        for answer in due:
            self.season.loop.ask("answer_alarm", (("alarm", str(answer.alarm)), ("occurrence", answer.occurrence)))
        if any(str(answer.alarm).startswith(("water.", "feed.", "probe.")) for answer in due):
            truth, volume = self.season.plant.truth(), self.season.plant.params.water.volume_m3
            if truth.alkalinity_mg_l < LIFTS_UNDER_MG_L:
                self.season.adds("bicarbonate", 20.0 * volume * BICARBONATE_G_PER_MG_L_M3)
            self._test()

    def _mend(self, moment: Moment) -> None:
        """Ends what is mended, tests the water, and clears what latched, at the plant."""
        weekly = self._step % (7 * STEPS_A_DAY) == 0
        for item in list(self._standing):
            gone = item.entry.ends_h is not None and self._step - item.begun >= item.entry.ends_h * 60.0
            seen = weekly and self._step - item.begun >= 7 * STEPS_A_DAY
            if gone or seen or (item.mended_at is not None and self._step >= item.mended_at):
                self.season.plant.set_fault(item.entry.fault, False)
                self._standing.remove(item)
                self.heard.mended.append((item.entry, _hours(item)))
        if self._step % 120 == 0 and not self._standing:
            latched = [(k, m.latched) for k, m in moment.state.working.memories.items() if m.latched is not None]
            for key, why in latched:
                assert why is not None
                self.season.loop.ask("clear_latch", (("latch", key), ("reason", str(why.code))))
            if latched:
                self._test()


def _folded(moment: Moment, codes: tuple[Code, ...]) -> list[tuple[Code, int]]:
    return [(a.code, a.occurrence) for a in moment.state.durable.alarms.alarms if a.code in codes]


def _hours(item: _Standing) -> float | None:
    return None if item.called is None else (item.called - item.begun) / 60.0


YEAR: tuple[Entry, ...] = (
    Entry(9, 11.0, "flow_lost"),
    Entry(17, 3.0, "node_silent", ends_h=0.5),
    Entry(26, 14.0, "orp_stuck"),
    Entry(38, 9.5, "sample_line_shut"),
    Entry(47, 21.0, "pump_room_silent", ends_h=3.0),
    Entry(55, 10.0, "heat_wave", ends_h=120.0),
    Entry(63, 12.0, "acid_feeder_dead"),
    Entry(74, 15.0, "algae", ends_h=72.0),
    Entry(83, 13.0, "chlorine_feeder_dead"),
    Entry(95, 16.0, "tablet_left_in", ends_h=24.0),
    Entry(104, 8.5, "ph_stuck"),
    Entry(116, 2.0, "probes_silent", ends_h=10.0),
    Entry(129, 11.0, "second_controller", ends_h=0.2),
    Entry(141, 10.0, "cold_snap", ends_h=72.0),
    Entry(205, 10.0, "pump_room_silent", ends_h=6.0),
    Entry(262, 17.0, "node_silent", ends_h=8.0),
    Entry(339, 11.0, "acid_container_empty"),
    Entry(346, 12.0, "orp_fouled"),
    Entry(353, 9.0, "flow_switch_stuck_on"),
    Entry(359, 9.0, "probes_swapped"),
)
"""Twenty faults from May to May, two of them while the season is closed."""
CLOSED = (153, 335)
"""The middle of October to the middle of April, for a run that begins in the middle of May."""
