"""Kills the daemon with SIGKILL at named points of a feed, again and again on one journal, and checks what is left each time.

Time is the simulated pool's, so that the start-up holds (15 min after a crash, an hour at the third start in one) pass in
seconds; nothing is done to shorten them. The pool stands in the shade and takes little, so that it wants chlorine in every hour.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from random import Random
from signal import SIGTERM

from dosectl.core.interlocks.arbiter import RESERVE_MG_L, RESERVE_S
from dosectl.core.site import Feeder
from dosectl.daemon.effects import CRASH_ENV, CRASH_POINTS
from dosectl.pool_model.params import PlantParams
from tests.system.pool_in_hand import TICK_S, thirsty_pool
from tests.system.record import booked_g
from tests.system.scene import SOON, Scene, scene_at

STEP_POINTS = CRASH_POINTS[:5]
"""Passed at each step in which a feed is granted; the rest is passed once, at an orderly end."""
COUNTS = (1, 1, 2, 3, 5, 9, 17, 40, 90)
WAITING_STEP_S = 4.5
"""Instants while nothing is fed: a message is stamped with the instant before, and one from 5 s ahead of it would be refused."""
CLEAN_HOLD_S, UNCLEAN_HOLD_S = 300.0, 900.0
HOUR_S, DAY_S = 3600.0, 86400.0
HOUR_MG_L = {"chlorine": 0.5, "acid": 1.25}
"""Half of the hourly limits: the daemon has less than 14 days of record."""
DAY_MG_L = {"chlorine": 5.0, "acid": 5.0}
NOISE_G = 1e-6


@dataclass(frozen=True, slots=True)
class Kill:
    """One kill and what the record held against what the node metered, per run of the daemon.

    feeding : feeders that the node had on when the daemon died; hold_s : from the start to the first ON
    over_g : booked and not fed, by feeder [g]
    """

    point: str
    count: int
    feeding: tuple[str, ...]
    hold_s: float
    over_g: tuple[tuple[str, float], ...]


class Lane:
    """One installation that is killed again and again."""

    def __init__(self, scene: Scene, random: Random) -> None:
        self._scene = scene
        self._pool = scene.pool
        self._random = random
        self._site = scene.installation.loaded.site
        self._booked = {feeder.id: 0.0 for feeder in self._site.feeders}
        self._metered = {feeder.id: 0.0 for feeder in self._site.feeders}
        self._hold_s_min = 0.0
        self._began = False

    def kill(self, point: str) -> Kill:
        """One run: start, the hold, a feed, the kill at the point, the checks. Fails by AssertionError."""
        scene, pool = self._scene, self._pool
        count = self._random.choice(COUNTS) if point in STEP_POINTS else 1
        environment = {CRASH_ENV: f"{point}:{count}"}
        started_s, place = pool.nodes.elapsed_s, len(pool.wire)
        if self._began:
            scene.again(environment=environment)
            self._check_ledger_kept()
        else:
            scene.begin(environment=environment)
            self._began = True
        self._until_fed(place)
        hold_s = pool.nodes.elapsed_s - started_s
        assert hold_s >= self._hold_s_min, f"a feed began {hold_s} s after a start that must hold for {self._hold_s_min} s"
        if point not in STEP_POINTS:
            self._tick_until_on()
            scene.daemon.signal(SIGTERM)
        feeding = self._until_killed()
        self._check_node_off()
        self._hold_s_min = CLEAN_HOLD_S if point == "closed" else UNCLEAN_HOLD_S
        over = self._check_ledger()
        self._check_limits()
        pool.wire.clear()
        return Kill(point, count, feeding, hold_s, over)

    @property
    def hours(self) -> float:
        """Simulated hours lived so far."""
        return self._pool.nodes.elapsed_s / HOUR_S

    # --- the run ---

    def _gone(self) -> bool:
        return not self._scene.daemon.running

    def _until_fed(self, place: int) -> None:
        """Until an ON is on the wire, or the daemon was killed before it could be."""
        pool = self._pool
        end_s = pool.nodes.elapsed_s + 12 * HOUR_S
        while not pool.ons(since=place) and not self._gone():
            place = len(pool.wire)
            pool.tick(WAITING_STEP_S, gave_up=self._gone)
            assert pool.nodes.elapsed_s < end_s, f"nothing was fed in 12 h: {pool.view['feeders']}"

    def _tick_until_on(self) -> None:
        for _ in range(20):
            if self._pool.nodes.node.outputs():
                return
            self._pool.tick(gave_up=self._gone)
        raise AssertionError("an ON went out and the node did not obey")

    def _until_killed(self) -> tuple[str, ...]:
        """Which feeders the node had on when the daemon died."""
        on: tuple[str, ...] = ()
        end_s = self._pool.nodes.elapsed_s + 12 * HOUR_S
        while not self._gone():
            on = tuple(self._pool.nodes.node.outputs())
            self._pool.tick(TICK_S, gave_up=self._gone)
            assert self._pool.nodes.elapsed_s < end_s, "it was not killed"
        assert self._scene.daemon.wait() == -9, self._scene.daemon.said()[-2000:]
        return tuple(self._pool.nodes.node.outputs()) or on

    # --- the checks ---

    def _check_node_off(self) -> None:
        """Whatever was on ends by itself, and no word of the dead daemon comes late."""
        pool = self._pool
        pool.pass_time(self._site.expires_s)
        assert not pool.nodes.node.outputs(), "the node still feeds after the command's own life"
        place = len(pool.wire)
        pool.listen(0.2)
        assert not pool.ons(since=place)
        pool.pass_time(30.0)

    def _metered_g(self, feeder: Feeder) -> float:
        return self._pool.plant.on_s.get(feeder.id, 0.0) * feeder.rate_g_s

    def _check_ledger(self) -> tuple[tuple[str, float], ...]:
        """The record of the dead daemon: nothing fed is missing, and at most one reservation too much."""
        over: list[tuple[str, float]] = []
        for feeder in self._site.feeders:
            booked = booked_g(self._scene.installation.journal, feeder.id)
            metered = self._metered_g(feeder)
            assert booked >= metered - NOISE_G, f"{feeder.id}: {metered} g were fed and only {booked} g are in the ledger"
            extra = (booked - self._booked[feeder.id]) - (metered - self._metered[feeder.id])
            bound = min(RESERVE_MG_L * self._site.pool.volume_m3, feeder.rate_g_s * RESERVE_S)
            # A tick more: an OFF's feedback is judged one instant later, and that time counts as fed.
            assert extra <= bound + feeder.rate_g_s * WAITING_STEP_S, (
                f"{feeder.id}: {extra} g too much; a reservation has {bound}"
            )
            self._booked[feeder.id], self._metered[feeder.id] = booked, metered
            over.append((str(feeder.id), extra))
        return tuple(over)

    def _check_ledger_kept(self) -> None:
        """A start takes nothing off the ledger."""
        for feeder in self._site.feeders:
            booked = booked_g(self._scene.installation.journal, feeder.id)
            assert booked >= self._booked[feeder.id] - NOISE_G, (
                f"{feeder.id}: the start lost {self._booked[feeder.id] - booked} g"
            )

    def _check_limits(self) -> None:
        """Metered masses over rolling windows, and the two chemicals apart."""
        plant = self._pool.plant
        assert plant.together_s == 0.0
        rates = {str(feeder.id): (feeder.substance.value, feeder.rate_g_s) for feeder in self._site.feeders}
        for window_s, limits in ((HOUR_S, HOUR_MG_L), (DAY_S, DAY_MG_L)):
            since_s = plant.elapsed_s - window_s
            fed: dict[str, float] = {}
            for name, at_s, seconds in reversed(plant.runs):
                if at_s < since_s:
                    break
                substance, rate = rates[name]
                fed[substance] = fed.get(substance, 0.0) + seconds * rate / self._site.pool.volume_m3
            for substance, mg_l in fed.items():
                assert mg_l <= limits[substance] + 1e-6, f"{mg_l} mg/L of {substance} within {window_s} s"


def quiet_pool(hypochlorite: bool) -> PlantParams:
    """Always a little short of chlorine; with a hypochlorite pump also a little short of acid."""
    usual = thirsty_pool(hypochlorite, free_chlorine_mg_l=1.2, ph=7.7 if hypochlorite else 7.4)
    return replace(usual, water=replace(usual.water, shade=0.0, demand_mg_l_day=0.3, k_thermal_per_day=0.02))


@contextmanager
def lane(folder: Path, seed: int, hypochlorite: bool) -> Iterator[Lane]:
    """An installation to be killed."""
    with scene_at(folder, quiet_pool(hypochlorite), SOON, hypochlorite) as scene:
        yield Lane(scene, Random(seed))
