"""The water: chlorine, alkalinity and carbon, heat and stabiliser, as one well-mixed body with a plume of what was just fed.

Free chlorine and total alkalinity move together: each mg of chlorine made as hypochlorite brings 0.706 mg of alkalinity, and
takes it away again when it is used up, so chlorination by itself is neutral in the end. What raises the pH of such a pool
for good is carbon dioxide leaving.
"""

import math
from dataclasses import dataclass
from random import Random

from dosectl.chemistry import buffering, chlorine
from dosectl.chemistry.activity import ionic_strength_from_salt
from dosectl.chemistry.cyanurate import CL2_G_MOL, CYANURIC_ACID_G_MOL, K_HOCL
from dosectl.chemistry.decay import DEMAND_FACTOR_PER_10_C, depth_factor, photolysis_rate_mg_l_s
from dosectl.chemistry.gas_exchange import AIR_CO2_ATM
from dosectl.pool_model.params import WaterParams

CACO3_PER_CL2 = 100.087 / 70.906 / 2.0  # alkalinity of hypochlorite, mg CaCO3 per mg Cl2: 0.706
DAY_S = 86400.0
_CONSTANTS_EVERY_S = 3600.0
_ROUNDING_S = 1e-6  # of many short steps together
_TRACE_MG_L = 1e-6
_HALF_MG_L = 0.3  # chlorine at which demand runs at half speed; guess
_USUAL_WIND_M_S = 2.0
_FAST_S, _SLOW_S = 600.0, 36000.0  # how quickly bathers' demand is used, its two halves; guess
_DEMAND_MEMORY_DAYS = 5.0
_SUN_W_M2, _LOSS_W_M2_K, _HEAT_J_M3_K = 800.0, 10.0, 4.18e6
# Evaporation holds a pool near 30 C in hot weather: (0.089 + 0.078 v) kW/m2 per kPa at 0.5 m/s over the water, halved for a home
# pool at rest (form of the ASHRAE Handbook, HVAC Applications; constants from memory, unchecked).
_EVAPORATION_W_M2_KPA, _HUMIDITY = 64.0, 0.5
_STILL_AIR_WIND_M_S = 1.5
_ALGAE_EAT_MG_L_DAY = 4.0  # what a full bloom (algae = 1) eats


@dataclass(slots=True)
class Surroundings:
    """What acts on the water during one step."""

    uv: float = 0.0
    air_c: float = 20.0
    wind_m_s: float = 1.5
    rain_mm_h: float = 0.0
    covered: bool = False
    pump_on: bool = False
    bather_g_s: float = 0.0
    algae_mg_l_day: float = 0.0
    heat_exchange: float = 1.0


class Water:
    """State of the pool. Concentrations of the mixed body [mg/L]; `*_plume` is fed but not mixed in yet [mg/L of pool]."""

    __slots__ = (
        "_beta",
        "_constants_due_s",
        "_elapsed_s",
        "_k",
        "_light",
        "_mood",
        "_params",
        "_rng",
        "algae",
        "alkalinity_mg_l",
        "alkalinity_plume",
        "chlorine_mg_l",
        "chlorine_plume",
        "combined_mg_l",
        "cya_mg_l",
        "demand_fast_mg_l",
        "demand_slow_mg_l",
        "dic_mol_l",
        "hocl_mg_l",
        "loss_mg_l_s",
        "lost_mg_l",
        "ph",
        "salt_g_l",
        "temp_c",
    )

    def __init__(self, params: WaterParams, rng: Random) -> None:
        self._params = params
        self._rng = rng
        self._elapsed_s = 0.0
        self._constants_due_s = 0.0
        self._light = depth_factor(params.depth_m, params.attenuation_per_m) * params.shade
        self._mood = 0.0
        self.chlorine_mg_l = params.free_chlorine_mg_l
        self.chlorine_plume = 0.0
        self.combined_mg_l = 0.1
        self.demand_fast_mg_l = 0.0
        self.demand_slow_mg_l = 0.0
        self.algae = 0.01
        self.cya_mg_l = params.cya_mg_l
        self.salt_g_l = params.salt_g_l
        self.temp_c = params.temp_c
        self.alkalinity_mg_l = params.alkalinity_mg_l
        self.alkalinity_plume = 0.0
        self.ph = params.ph
        self._beta = 1e-4
        self._renew_constants()
        wanted = params.alkalinity_mg_l / buffering.MG_CACO3_PER_EQ
        self.dic_mol_l = buffering.dic_mol_l(params.ph, wanted, self._other(), self._k)
        self.hocl_mg_l = chlorine.hocl_mg_l(self.chlorine_mg_l, self.cya_mg_l, self.ph)
        self.loss_mg_l_s = 0.0
        self.lost_mg_l = 0.0

    @property
    def free_chlorine_mg_l(self) -> float:
        """Mean over the whole pool."""
        return self.chlorine_mg_l + self.chlorine_plume

    @property
    def total_alkalinity_mg_l(self) -> float:
        """Mean over the whole pool."""
        return self.alkalinity_mg_l + self.alkalinity_plume

    def feed_chlorine(self, mg_l: float) -> None:
        """Hypochlorite, bought or made, enters the return line. [mg/L of the pool]"""
        self.chlorine_plume += mg_l
        self.alkalinity_plume += CACO3_PER_CL2 * mg_l

    def feed_acid(self, mg_l: float) -> None:
        """Acid enters the return line. [mg/L of alkalinity removed]"""
        self.alkalinity_plume -= mg_l

    def step(self, dt_s: float, around: Surroundings) -> None:
        """Moves on by `dt_s`, at most some minutes."""
        self._elapsed_s += dt_s
        if self._elapsed_s >= self._constants_due_s - _ROUNDING_S:
            self._renew_constants()
        self._mix(dt_s, around.pump_on)
        self._use_chlorine(dt_s, around)
        self._exchange_gas(dt_s, around)
        self._exchange_water_and_heat(dt_s, around)
        self.settle()

    def _renew_constants(self) -> None:
        self._constants_due_s += _CONSTANTS_EVERY_S  # not from now: steps cut short would put it off, and other moods be drawn
        self._k = buffering.constants(self.temp_c, ionic_strength_from_salt(self.salt_g_l))
        days = _CONSTANTS_EVERY_S / DAY_S
        keep = math.exp(-days / _DEMAND_MEMORY_DAYS)
        self._mood = keep * self._mood + math.sqrt(1.0 - keep * keep) * self._rng.gauss(0.0, self._params.demand_spread)

    def _mix(self, dt_s: float, pump_on: bool) -> None:
        if self.chlorine_plume == 0.0 and self.alkalinity_plume == 0.0:
            return
        share = -math.expm1(-dt_s / (self._params.mixing_s if pump_on else self._params.still_mixing_s))
        moved = share * self.chlorine_plume
        self.chlorine_plume -= moved
        self.chlorine_mg_l += moved
        moved = share * self.alkalinity_plume
        self.alkalinity_plume -= moved
        self.alkalinity_mg_l += moved

    def _use_chlorine(self, dt_s: float, around: Surroundings) -> None:
        params = self._params
        fc = self.chlorine_mg_l
        warm = DEMAND_FACTOR_PER_10_C ** ((self.temp_c - 25.0) / 10.0)
        active = fc / (fc + _HALF_MG_L)
        bather = around.bather_g_s / params.volume_m3 * dt_s
        self.demand_fast_mg_l += 0.5 * bather
        self.demand_slow_mg_l += 0.5 * bather + around.rain_mm_h * 0.01 * dt_s / 3600.0
        if params.leaves_mg_l_day > 0.0 and not around.covered:
            self.demand_slow_mg_l += params.leaves_mg_l_day * (around.wind_m_s / _USUAL_WIND_M_S) ** 2 * dt_s / DAY_S
        self.combined_mg_l += 0.12 * bather
        fast = self.demand_fast_mg_l * active * dt_s / _FAST_S
        slow = self.demand_slow_mg_l * active * warm * dt_s / _SLOW_S
        self.demand_fast_mg_l -= fast
        self.demand_slow_mg_l -= slow
        hocl = self.hocl_mg_l
        ocl = hocl * (K_HOCL * 10.0**self.ph)
        bound = max(0.0, fc - hocl - ocl)
        per_s = params.demand_mg_l_day * math.exp(self._mood) * warm * active / DAY_S
        per_s += params.k_thermal_per_day * warm * bound / DAY_S
        per_s += (_ALGAE_EAT_MG_L_DAY * self.algae + around.algae_mg_l_day) * warm * active / DAY_S
        uv = around.uv * (0.03 if around.covered else 1.0)
        if uv > 0.0:
            per_s += photolysis_rate_mg_l_s(hocl, ocl, bound, uv, depth_share=self._light, k_ring_per_s=params.k_ring_per_s)
        lost = min(fc, per_s * dt_s + fast + slow)
        self.chlorine_mg_l = fc - lost
        self.alkalinity_mg_l -= CACO3_PER_CL2 * lost
        self.lost_mg_l += lost
        self.loss_mg_l_s = lost / dt_s
        self.combined_mg_l *= 1.0 - min(1.0, (0.6 * active + 1.5 * uv) * dt_s / DAY_S)
        # Algae double in about a day where hardly any HOCl is left, and die where there is some; guess.
        growth = 0.7 * warm - 70.0 * hocl
        self.algae = min(1.0, max(0.005, self.algae * (1.0 + growth * dt_s / DAY_S)))

    def _exchange_gas(self, dt_s: float, around: Surroundings) -> None:
        k = self._k
        h = 10.0**-self.ph
        r1 = k.k1 / h
        dissolved = self.dic_mol_l / (1.0 + r1 * (1.0 + k.k2 / h))
        # Rises with the square of the wind (Wanninkhof), with circulation and bathers; a cover all but ends it.
        wind = around.wind_m_s / _STILL_AIR_WIND_M_S
        stir = (0.6 + 0.4 * wind * wind if wind < 3.0 else 4.2) * (1.0 if around.pump_on else 0.5)
        speed_m_s = self._params.co2_transfer_cm_h * stir * (0.1 if around.covered else 1.0) / 360000.0
        excess = dissolved - k.kh * AIR_CO2_ATM
        self.dic_mol_l -= excess * min(1.0, speed_m_s / self._params.depth_m * dt_s)

    def _exchange_water_and_heat(self, dt_s: float, around: Surroundings) -> None:
        params = self._params
        day = dt_s / DAY_S
        rain = around.rain_mm_h / 1000.0 * dt_s / 3600.0 / params.depth_m
        if rain > 0.0:  # fresh, soft, over the overflow
            for name in ("chlorine_mg_l", "cya_mg_l", "salt_g_l", "alkalinity_mg_l", "dic_mol_l", "combined_mg_l"):
                setattr(self, name, getattr(self, name) * (1.0 - rain))
        swapped = params.exchange_per_day * day
        self.cya_mg_l = max(0.0, self.cya_mg_l * (1.0 - swapped) - params.cya_loss_mg_l_day * day)
        self.salt_g_l *= 1.0 - swapped
        # Splash takes alkalinity, refilling brings the tap's; evaporation (5 mm a day uncovered) only brings it.
        evaporated = 0.0 if around.covered else 0.005 / params.depth_m * day
        gained = params.fill_alkalinity_mg_l * (swapped + evaporated)
        self.alkalinity_mg_l += gained - self.alkalinity_mg_l * swapped
        self.dic_mol_l += gained / buffering.MG_CACO3_PER_EQ * 1.03 - self.dic_mol_l * swapped
        sun = _SUN_W_M2 * around.uv * params.shade * (0.7 if around.covered else 1.0)
        air = _LOSS_W_M2_K * around.heat_exchange * (0.4 if around.covered else 1.0) * (around.air_c - self.temp_c)
        dry = _vapour_kpa(self.temp_c) - _HUMIDITY * _vapour_kpa(around.air_c)
        steam = _EVAPORATION_W_M2_KPA * around.heat_exchange * (0.05 if around.covered else 1.0) * dry
        temp = self.temp_c + (sun + air - steam) / (_HEAT_J_M3_K * params.depth_m) * dt_s
        self.temp_c = min(40.0, max(1.0, temp))

    def _other(self) -> buffering.Buffers:
        ring = self.cya_mg_l / (1000.0 * CYANURIC_ACID_G_MOL)
        return buffering.Buffers(ring, 0.0, self.chlorine_mg_l / (1000.0 * CL2_G_MOL))

    def settle(self) -> None:
        """pH by Newton from the last one (a step moves it little), the buffer's slope renewed once a call."""
        wanted = self.alkalinity_mg_l / buffering.MG_CACO3_PER_EQ
        ph, dic, other, k = self.ph, max(0.0, self.dic_mol_l), self._other(), self._k
        error = buffering.alkalinity_eq_l(ph, dic, other, k) - wanted
        for _ in range(6):
            step = -error / self._beta
            if abs(step) > 0.3:
                break
            ph += step
            before, error = error, buffering.alkalinity_eq_l(ph, dic, other, k) - wanted
            if abs(step) > 1e-4:
                self._beta = max(1e-6, (error - before) / step)
            if abs(error) < 1e-6 * self._beta:
                break
        if abs(error) > 1e-4 * self._beta:
            ph = _solve_far(wanted, dic, other, k)
            self._beta = (buffering.alkalinity_eq_l(ph + 0.01, dic, other, k) - wanted) * 100.0
        self.ph = ph
        if self.chlorine_mg_l < _TRACE_MG_L:  # no test finds it, and the ring's equilibrium ends in rounding there
            self.chlorine_mg_l = 0.0
        self.hocl_mg_l = chlorine.hocl_mg_l(self.chlorine_mg_l, self.cya_mg_l, ph)


def _vapour_kpa(temp_c: float) -> float:
    """Saturated vapour over water (Magnus form; constants from memory)."""
    return 0.6108 * math.exp(17.27 * temp_c / (temp_c + 237.3))


def _solve_far(wanted: float, dic: float, other: buffering.Buffers, k: buffering.Constants) -> float:
    """pH after a great change; past the solver's range the water simply stays at its edge."""
    try:
        return buffering.solve_ph(wanted, dic, other, k)
    except ValueError:
        return 3.0 if wanted < 0.0 else 12.0
