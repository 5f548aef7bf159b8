"""The owner's hand, the same for every way of control: tests, refills, alkalinity.

Free chlorine and pH by drops at the first start and once a week, one time in five forgotten, three in ten entered up to a day and
a half late; stabiliser once a month by turbidity, with this tester's constant bias. On the day before an absence everything is
tested; nothing is tested or refilled while the owner is away. Salt is kept, as the cell needs it. Who is told that the product is
stale (`feed.weak`) fills in fresh the next day when at home; only dosectl tells it. An owner who tests when asked takes free
chlorine and pH on no fixed day, but while dosectl says that a test is due (`water.test_due`), as forgetful and as late.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random

from dosectl.pool_model.plant import PoolPlant

BICARBONATE_G_PER_MG_L_M3 = 1.68  # NaHCO3, stoichiometry: 84.01 / 50.04
KEEPS_ALKALINITY_MG_L = 65.0
KEEPS_SALT_G_L = 3.6
WEEK, MONTH = 7, 30
STALE, DUE = "feed.weak", "water.test_due"


@dataclass(frozen=True, slots=True)
class Noted:
    """A result written down; it is handed over at `known_utc`."""

    quantity: str
    value: float
    method: str
    taken_utc: datetime
    known_utc: datetime


class Owner:
    """Calls once an hour; what comes back is what is entered now."""

    def __init__(self, plant: PoolPlant, seed: int, test_days: tuple[float, float], when_asked: bool = False) -> None:
        """test_days : first and last day (since the start) on which tests are taken; when_asked : then, and on no fixed day"""
        self._plant = plant
        self._rng = Random(f"owner {seed}")
        self._from, self._to = test_days
        self._noted: list[Noted] = []
        self._hour = -1
        self._fresh_again = 0
        self.refills: list[str] = []
        self._when_asked = when_asked
        self.walks = 0  # for free chlorine and pH

    def hour(self, told: frozenset[str] = frozenset()) -> tuple[Noted, ...]:
        """One more hour has passed. `told`: codes of the alarms that stand."""
        self._hour += 1
        day, hour = divmod(self._hour, 24)
        if self._hour == 0:
            self._note("free_chlorine", "drops", 0.0)
            self._note("ph", "drops", 0.0)
        if hour == 11:
            self._day(day, told)
            self._heed(day, told)
        now = self._plant.utc
        due = tuple(note for note in self._noted if note.known_utc <= now)
        self._noted = [note for note in self._noted if note.known_utc > now]
        return due

    def _day(self, day: int, told: frozenset[str]) -> None:
        rng, plant = self._rng, self._plant
        draws = rng.random(), rng.random(), rng.uniform(2.0, 36.0)  # always, so that one day's luck moves no other day
        testing = self._from <= day < self._to
        if testing and (DUE in told if self._when_asked else day % WEEK == 2) and draws[0] > 0.2:
            self.walks += 1
            late_h = draws[2] if draws[1] < 0.3 else 0.0
            self._note("free_chlorine", "drops", late_h)
            self._note("ph", "drops", late_h)
        if testing and day % WEEK == 3:
            self._note("alkalinity", "drops", 0.0)
            if plant.truth().alkalinity_mg_l < KEEPS_ALKALINITY_MG_L:
                plant.add_by_hand("bicarbonate_g", BICARBONATE_G_PER_MG_L_M3 * plant.params.water.volume_m3 * 20.0)
        lacking_g_l = KEEPS_SALT_G_L - plant.truth().salt_g_l
        if testing and day % MONTH == 4 and lacking_g_l > 0.3:
            plant.add_by_hand("salt_g", 1000.0 * plant.params.water.volume_m3 * lacking_g_l)
        if testing and day % MONTH == 4 and plant.params.water.cya_mg_l > 5.0:
            # the turbidity tube ends at 100; who has more takes a sample to a shop's photometer
            self._note("stabiliser", "turbidity" if plant.truth().cya_mg_l < 85.0 else "photometer", 0.0)
        if testing and day + 1.0 >= self._to:
            self._leaving()
        if testing:
            self.refills = self.below(40.0)

    def below(self, percent: float) -> list[str]:
        """The feeders whose container holds less."""
        fill = self._plant.signals()
        return [feeder for feeder in self._plant.feeders if float(fill.get(f"{feeder}_percent", 100.0)) < percent]

    def _heed(self, day: int, told: frozenset[str]) -> None:
        if STALE in told and self._from <= day < self._to and day >= self._fresh_again:
            chlorine = (feeder for feeder in self._plant.feeders if feeder != "acid")
            self.refills += [f for f in chlorine if f"{f}_percent" in self._plant.signals() and f not in self.refills]
            self._fresh_again = day + WEEK

    def _leaving(self) -> None:
        """The day before an absence everything is tested. Alkalinity is not raised: more of it asks for more acid."""
        for quantity in ("free_chlorine", "ph", "alkalinity"):
            self._note(quantity, "drops", 0.0)

    def _note(self, quantity: str, method: str, late_h: float) -> None:
        now = self._plant.utc
        self._noted.append(Noted(quantity, self._plant.manual_test(quantity, method), method, now, now + timedelta(hours=late_h)))
