"""The sample line and the electrodes in it: ORP, pH and temperature as the node reads them."""

import math
from random import Random

from dosectl.pool_model.faults.upset import Upset
from dosectl.pool_model.params import OrpParams, PhParams, SampleLineParams

_HOCL_FLOOR_MG_L = 1e-4
_PH_MV = 59.16
WALK_MV = 1.0  # of an electrode that answers nothing, each half hour; own judgement
_WANDER_S = 7200.0
_DAY_S = 86400.0


class SampleLine:
    """Water at the electrodes: the pool's, a little late; or standing water that warms and loses its chlorine."""

    __slots__ = ("_params", "hocl_mg_l", "ph", "temp_c")

    def __init__(self, params: SampleLineParams, hocl_mg_l: float, ph: float, temp_c: float) -> None:
        self._params = params
        self.hocl_mg_l = hocl_mg_l
        self.ph = ph
        self.temp_c = temp_c

    def step(self, dt_s: float, hocl_mg_l: float, ph: float, temp_c: float, flowing: bool) -> None:
        """Moves on by `dt_s` with the pool's water flowing past, or standing."""
        if flowing:
            share = -math.expm1(-dt_s / self._params.delay_s)
            self.hocl_mg_l += share * (hocl_mg_l - self.hocl_mg_l)
            self.ph += share * (ph - self.ph)
            self.temp_c += share * (temp_c - self.temp_c)
        else:
            self.hocl_mg_l *= math.exp(-dt_s / self._params.chlorine_life_s)
            self.temp_c -= math.expm1(-dt_s / self._params.warm_s) * (self._params.plant_room_c - self.temp_c)


class Electrodes:
    """What the probe node reads.

    ORP: e0 + slope log10(HOCl) - cross effect of pH, slope falling with fouling, with lag, offset, drift, slow wander and
    noise. A dirty or chlorine-starved electrode is slow.
    """

    __slots__ = (
        "_age_s",
        "_fault_drift_mv",
        "_fault_drift_ph",
        "_fault_walk_mv",
        "_noise_mv",
        "_orp_lagged",
        "_orp_params",
        "_ph_lagged",
        "_ph_noise",
        "_ph_params",
        "_rng",
        "_wander",
        "orp_mv",
        "ph",
        "temp_c",
    )

    def __init__(self, orp: OrpParams, ph: PhParams, rng: Random, line: SampleLine) -> None:
        self._orp_params = orp
        self._ph_params = ph
        self._rng = rng
        self._age_s = 0.0
        self._wander = 0.0
        self._fault_drift_mv = 0.0
        self._fault_walk_mv = 0.0
        self._fault_drift_ph = 0.0
        self._noise_mv = 0.0
        self._ph_noise = 0.0
        self._orp_lagged = self._ideal_orp(line, False)
        self._ph_lagged = line.ph
        self.orp_mv = round(self._orp_lagged + orp.offset_mv, 1)
        self.ph = round(7.0 + ph.slope * (line.ph - 7.0) + ph.offset, 2)
        self.temp_c = round(line.temp_c, 1)

    def _ideal_orp(self, line: SampleLine, cell_on: bool, share: float = 1.0) -> float:
        params = self._orp_params
        fouled = max(0.4, 1.0 - params.fouling_per_day * self._age_s / _DAY_S)
        decades = math.log10(max(line.hocl_mg_l, _HOCL_FLOOR_MG_L))
        slope = params.slope_mv_decade * fouled * share * (line.temp_c + 273.15) / 298.15
        return params.e0_mv + slope * decades - params.ph_slope_mv * (line.ph - 7.5) + (params.hydrogen_mv if cell_on else 0.0)

    def step(self, dt_s: float, line: SampleLine, cell_on: bool, upset: Upset) -> None:
        """Moves on by `dt_s`; the attributes then hold what the node would send."""
        orp, ph, rng = self._orp_params, self._ph_params, self._rng
        self._age_s += dt_s
        lag_s = orp.lag_s + orp.lag_low_chlorine_s * 0.02 / (0.02 + line.hocl_mg_l)
        lag_s *= upset.orp_lag_times
        if not upset.orp_deaf:
            ideal = self._ideal_orp(line, cell_on, upset.orp_slope_share)
            self._orp_lagged -= math.expm1(-dt_s / lag_s) * (ideal - self._orp_lagged)
        self._ph_lagged -= math.expm1(-dt_s / ph.lag_s) * (line.ph - self._ph_lagged)
        keep = math.exp(-dt_s / _WANDER_S)
        self._wander = keep * self._wander + math.sqrt(1.0 - keep * keep) * rng.gauss(0.0, orp.wander_mv)
        self._noise_mv = rng.gauss(0.0, orp.noise_mv)
        self._ph_noise = rng.gauss(0.0, ph.noise)
        if upset.orp_drift_mv_day:
            self._fault_drift_mv += upset.orp_drift_mv_day * dt_s / _DAY_S
        else:
            self._fault_drift_mv = 0.0
        self._fault_walk_mv = self._fault_walk_mv + rng.gauss(0.0, WALK_MV * math.sqrt(dt_s / 1800.0)) if upset.orp_deaf else 0.0
        self._fault_drift_ph = self._fault_drift_ph + upset.ph_drift_day * dt_s / _DAY_S if upset.ph_drift_day else 0.0
        self.read(line, upset)

    def read(self, line: SampleLine, upset: Upset) -> None:
        """The node's figures for the present state; a fault that begins shows here at once."""
        orp_params, ph_params = self._orp_params, self._ph_params
        days = self._age_s / _DAY_S
        orp = self._orp_lagged + orp_params.offset_mv + orp_params.drift_mv_day * days + self._wander + self._noise_mv
        orp += self._fault_drift_mv + self._fault_walk_mv
        ph = 7.0 + ph_params.slope * (self._ph_lagged - 7.0) + ph_params.offset + ph_params.drift_per_day * days + self._ph_noise
        ph += self._fault_drift_ph
        if upset.orp_dead:
            orp = 2.0 * self._noise_mv
        if upset.ph_dead:
            ph = 7.0 + self._ph_noise
        if upset.probes_swapped:
            orp, ph = -_PH_MV * (ph - 7.0), 7.0 - orp / _PH_MV
        if not upset.orp_frozen:
            self.orp_mv = round(orp, 1)
        if not upset.ph_frozen:
            self.ph = round(ph, 2)
        self.temp_c = round(line.temp_c, 1)
