"""The whole plant: satisfies `protocol.Plant`. Seeded and deterministic: same parameters, seed and commands, same run."""

from collections.abc import Mapping
from datetime import datetime
from random import Random

from dosectl.chemistry import chlorine
from dosectl.pool_model import additions, hand_tests
from dosectl.pool_model.bathers import Bathers
from dosectl.pool_model.circulation import Circulation
from dosectl.pool_model.electrodes import Electrodes, SampleLine
from dosectl.pool_model.faults import registry
from dosectl.pool_model.feeders import DosingPump, Feeder, make
from dosectl.pool_model.local_time import LocalTime
from dosectl.pool_model.params import PlantParams
from dosectl.pool_model.protocol import Truth
from dosectl.pool_model.water import Surroundings, Water
from dosectl.pool_model.weather import Weather

STEP_S_MAX = 60.0
SALT_EVERY_S, SALT_NOISE_G_L = 3600.0, 0.02  # a conductivity sensor of a home cell; its gain is wrong by up to 5 %; an estimate
_COVER_LETS_NO_BATHERS = 0.0


class PoolPlant:
    """A pool with its plant room.

    Fed chemical reaches the pool only with water flow; fed into a standing line it waits there and comes at the restart.
    """

    def __init__(self, params: PlantParams, start_utc: datetime, seed: int = 0) -> None:
        """`start_utc` must be aware. Each part draws from its own stream, so that one part's change moves no other's."""
        self.params = params
        self._time = LocalTime(start_utc, params.weather.time_zone)
        self._elapsed_s = 0.0
        self._weather = Weather(params.weather, Random(f"{seed} weather"))
        self._bathers = Bathers(params.bathers, Random(f"{seed} bathers"))
        self._water = Water(params.water, Random(f"{seed} water"))
        self._circulation = Circulation(params.circulation)
        self._feeders: tuple[Feeder, ...] = tuple(make(feeder) for feeder in params.feeders)
        self._ids = tuple(feeder.id for feeder in self._feeders)
        water = self._water
        self._line = SampleLine(params.sample_line, water.hocl_mg_l, water.ph, water.temp_c)
        self._electrodes = Electrodes(params.orp, params.ph, Random(f"{seed} electrodes"), self._line)
        self._salt_rng = Random(f"{seed} salt")
        self._salt_gain = self._salt_rng.uniform(0.95, 1.05)
        self._salt_shown_g_l, self._salt_due_s = self._salt_gain * water.salt_g_l, SALT_EVERY_S
        self._tester = hand_tests.Tester(Random(f"{seed} tester"))
        self._around = Surroundings()
        self._active: dict[str, float | None] = {}  # fault: seconds left, None until it is ended
        self._upset = registry.upset_by(())
        self._commands: dict[str, float] = {}
        self._stranded_chlorine_g = 0.0
        self._stranded_acid_g = 0.0
        self._fed_chlorine_g = 0.0
        self._fed_acid_g = 0.0
        self._fed_without_flow_s = 0.0
        self.ran_together_s = 0.0  # acid and chlorine loads both running
        self._look_around(0.0)

    @property
    def utc(self) -> datetime:
        """The plant's present moment."""
        return self._time.utc(self._elapsed_s)

    @property
    def feeders(self) -> tuple[str, ...]:
        """Ids of the feeders."""
        return self._ids

    @property
    def faults(self) -> tuple[str, ...]:
        """Names of the faults that stand."""
        return tuple(self._active)

    def advance(self, dt_s: float, commands: Mapping[str, float]) -> None:
        """See `protocol.Plant.advance`. Long times are walked in steps of at most a minute."""
        if not 0.0 <= dt_s < 1e9:
            raise ValueError(f"time to pass = {dt_s!r} s: accepted is 0 or more; a plant does not go back")
        for name, level in commands.items():
            if name not in self._ids:
                raise KeyError(f"feeder {name!r} is not part of this plant; it has {', '.join(self._ids)}")
            if not 0.0 <= level <= 1.0:
                raise ValueError(f"level of {name} = {level!r}: accepted is 0 to 1, a share of full output")
        self._commands = dict(commands)
        if dt_s == 0.0:
            self._feed(0.0)
            return
        left_s = dt_s
        while left_s > 1e-9:
            step_s = min(left_s, STEP_S_MAX)
            self._step(step_s)
            left_s -= step_s

    def _step(self, dt_s: float) -> None:
        self._elapsed_s += dt_s
        self._look_around(dt_s)
        fed_chlorine_g, fed_acid_g = self._feed(dt_s)
        water, around = self._water, self._around
        if around.pump_on and self._circulation.flow:
            fed_chlorine_g, self._stranded_chlorine_g = fed_chlorine_g + self._stranded_chlorine_g, 0.0
            fed_acid_g, self._stranded_acid_g = fed_acid_g + self._stranded_acid_g, 0.0
            volume = self.params.water.volume_m3
            if fed_chlorine_g:
                water.feed_chlorine(fed_chlorine_g / volume)
            if fed_acid_g:
                water.feed_acid(fed_acid_g / volume)
        else:
            self._stranded_chlorine_g += fed_chlorine_g
            self._stranded_acid_g += fed_acid_g
        if self._upset.trichlor_g_h:
            self._tablet(dt_s)
        water.step(dt_s, around)
        sampled = self._circulation.flow and not self._upset.sample_shut
        self._line.step(dt_s, water.hocl_mg_l, water.ph, water.temp_c, sampled)
        cell_on = any(feeder.running and not feeder.acid for feeder in self._feeders)
        self._electrodes.step(dt_s, self._line, cell_on, self._upset)
        if self._elapsed_s >= self._salt_due_s:
            self._salt_due_s += SALT_EVERY_S
            self._salt_shown_g_l = max(0.0, self._salt_gain * water.salt_g_l + self._salt_rng.gauss(0.0, SALT_NOISE_G_L))
        if self._active:
            self._end_short_faults(dt_s)

    def _look_around(self, dt_s: float) -> None:
        day, hour = self._time.day_and_hour(self._elapsed_s)
        weather, around, upset = self._weather, self._around, self._upset
        weather.step(self._elapsed_s, self.utc, day, hour)
        self._bathers.step(day, hour)
        self._circulation.step(dt_s, hour, upset)
        around.uv = weather.uv
        around.air_c = weather.air_c + upset.air_offset_c
        around.wind_m_s = weather.wind_m_s
        around.rain_mm_h = weather.rain_mm_h
        around.covered = upset.cover_closed
        around.pump_on = self._circulation.flow
        around.bather_g_s = _COVER_LETS_NO_BATHERS if upset.cover_closed else self._bathers.demand_g_s
        around.algae_mg_l_day = upset.algae_mg_l_day
        around.heat_exchange = upset.heat_exchange

    def _feed(self, dt_s: float) -> tuple[float, float]:
        chlorine_g = acid_g = 0.0
        flow, water, upset = self._circulation.flow, self._water, self._upset
        silenced = upset.feeder_node_rebooting
        running: set[bool] = set()  # True: acid
        for feeder in self._feeders:
            level = 0.0 if silenced else self._commands.get(feeder.id, 0.0)
            mass_g = feeder.step(dt_s, level, flow, water.temp_c, water.salt_g_l, upset)
            if feeder.running:
                running.add(feeder.acid)
            if feeder.acid:
                acid_g += mass_g
            else:
                chlorine_g += mass_g
        self._fed_chlorine_g += chlorine_g
        self._fed_acid_g += acid_g
        if running and not flow:
            self._fed_without_flow_s += dt_s
        if len(running) > 1:
            self.ran_together_s += dt_s
        return chlorine_g, acid_g

    def _tablet(self, dt_s: float) -> None:
        additions.apply("trichlor_g", self._upset.trichlor_g_h / 3600.0 * dt_s, self._water, self.params.water.volume_m3)

    def _end_short_faults(self, dt_s: float) -> None:
        for name, left_s in list(self._active.items()):
            if left_s is None:
                continue
            if left_s - dt_s > 1e-9:
                self._active[name] = left_s - dt_s
            else:
                self.set_fault(name, False)

    def signals(self) -> dict[str, float | bool]:
        """See `protocol.Plant`; silent nodes leave their signals out."""
        out: dict[str, float | bool] = {}
        upset, electrodes, circulation = self._upset, self._electrodes, self._circulation
        if not upset.probe_node_silent:
            out["orp_mv"] = electrodes.orp_mv
            out["ph"] = electrodes.ph
            out["temp_c"] = electrodes.temp_c
            out["salt_g_l"] = round(self._salt_shown_g_l, 2)
            out["cover_closed"] = upset.cover_closed
            out["sunlight_percent"] = round(self._weather.light_percent)
        if not upset.pump_room_node_silent:
            out["flow"] = circulation.flow_switch
            out["pump_w"] = round(circulation.power_w, 0)
            for feeder in self._feeders:
                feeder.signals(out, upset)
        return out

    def truth(self) -> Truth:
        """See `protocol.Truth`."""
        water, around, circulation = self._water, self._around, self._circulation
        free = water.free_chlorine_mg_l
        return Truth(
            utc=self.utc,
            free_chlorine_mg_l=free,
            combined_chlorine_mg_l=water.combined_mg_l,
            hocl_mg_l=chlorine.hocl_mg_l(free, water.cya_mg_l, water.ph) if water.chlorine_plume else water.hocl_mg_l,
            ph=water.ph,
            temp_c=water.temp_c,
            cya_mg_l=water.cya_mg_l,
            alkalinity_mg_l=water.total_alkalinity_mg_l,
            salt_g_l=water.salt_g_l,
            uv=around.uv * self.params.water.shade * (0.03 if around.covered else 1.0),
            air_c=around.air_c,
            rain_mm_h=around.rain_mm_h,
            bathers=0 if around.covered else self._bathers.count,
            pump_on=circulation.pump_on,
            flow=circulation.flow,
            cover_closed=around.covered,
            loss_mg_l_day=water.loss_mg_l_s * 86400.0,
            fed_chlorine_g=self._fed_chlorine_g,
            fed_acid_g=self._fed_acid_g,
            lost_chlorine_g=water.lost_mg_l * self.params.water.volume_m3,
            fed_without_flow_s=self._fed_without_flow_s,
        )

    def set_fault(self, name: str, on: bool) -> None:
        """See `protocol.Plant`; shows in `signals` at once."""
        fault = registry.find(name)
        if on:
            self._active[name] = fault.lasts_s
        else:
            self._active.pop(name, None)
        self._upset = registry.upset_by(self._active)
        self._look_around(0.0)
        self._feed(0.0)
        self._electrodes.read(self._line, self._upset)

    def manual_test(self, quantity: str, method: str) -> float:
        """See `protocol.Plant`. The sample is taken from the mixed body, arm-deep and away from the returns."""
        return self._tester.measure(quantity, method, self._water)

    def empty_house(self) -> None:
        """From now on nobody bathes."""
        self._bathers.away = True

    def add_by_hand(self, product: str, amount: float) -> None:
        """See `protocol.Plant`; products and units: `additions.PRODUCTS`.

        `{feeder}_container_ml` refills a feeder's container with fresh product instead.
        """
        for feeder in self._feeders:
            if product == f"{feeder.id}_container_ml" and isinstance(feeder, DosingPump):
                feeder.refill(amount)
                return
        additions.apply(product, amount, self._water, self.params.water.volume_m3)
