"""What electrodes read: the pH electrode's slope, the redox electrode's form, and the solutions they are checked in."""

import math

from dosectl.chemistry import ranges
from dosectl.chemistry.activity import NACL_G_MOL
from dosectl.chemistry.cyanurate import CL2_G_MOL
from dosectl.chemistry.ranges import Range

R_J_MOL_K = 8.314462618
F_C_MOL = 96485.33212
POTENTIAL = Range("redox potential", -2000.0, 2000.0, "mV")
SLOPE = Range("electrode slope", 1.0, 500.0, "mV per decade")
E0_THEORY_MV = 1482.0  # HOCl + H+ + 2 e- = Cl- + H2O against hydrogen; CRC handbook, from memory
HOCL_FLOOR_MG_L = 1e-4  # below this no electrode follows chlorine; keeps the logarithm finite in chlorine-free water
PH_REFERENCE = 7.5


def nernst_slope_mv(temp_c: float) -> float:
    """RT ln10 / F: slope of an ideal pH electrode. [mV per pH]. 25 C: 59.16. A two-electron couple has half of it."""
    return 1000.0 * R_J_MOL_K * (ranges.TEMPERATURE.check(temp_c) + 273.15) * math.log(10.0) / F_C_MOL


def orp_mv(
    hocl_mg_l: float,
    ph: float,
    *,
    e0_mv: float,
    slope_mv_decade: float,
    temp_c: float = 25.0,
    ph_slope_mv: float | None = None,
    chloride_ratio: float = 1.0,
) -> float:
    """Reading of a redox electrode in chlorinated water: E = e0 + slope log10(HOCl) - ph_slope (pH - 7.5). [mV]

    Only the form is theory. A real electrode has a mixed potential 200-400 mV below the thermodynamic one and often
    a steeper slope than 30 mV per decade, so `e0_mv` (the reading at 1 mg/L HOCl, pH 7.5) and `slope_mv_decade`
    must be fitted on site, against the reference electrode that is fitted there. `slope_mv_decade` is that at 25 C
    and scales with absolute temperature. `ph_slope_mv` is per pH unit at fixed HOCl; None takes the theory, half
    the Nernst slope. `chloride_ratio` is salt now by salt at the fit; ten times the chloride takes half a Nernst
    slope.
    """
    ranges.HOCL.check(hocl_mg_l)
    return _e0_at(ph, e0_mv, temp_c, ph_slope_mv, chloride_ratio) + _slope_at(slope_mv_decade, temp_c) * math.log10(
        max(hocl_mg_l, HOCL_FLOOR_MG_L)
    )


def hocl_from_orp_mv(
    orp: float,
    ph: float,
    *,
    e0_mv: float,
    slope_mv_decade: float,
    temp_c: float = 25.0,
    ph_slope_mv: float | None = None,
    chloride_ratio: float = 1.0,
) -> float:
    """HOCl that would give this reading. [mg/L as Cl2]. Inverse of `orp_mv`; a result far off is a wrong fit, not water."""
    POTENTIAL.check(orp)
    decades = (orp - _e0_at(ph, e0_mv, temp_c, ph_slope_mv, chloride_ratio)) / _slope_at(slope_mv_decade, temp_c)
    return float(10.0 ** max(-12.0, min(12.0, decades)))


def _e0_at(ph: float, e0_mv: float, temp_c: float, ph_slope_mv: float | None, chloride_ratio: float) -> float:
    ranges.PH.check(ph)
    POTENTIAL.check(e0_mv)
    half = 0.5 * nernst_slope_mv(temp_c)
    per_ph = half if ph_slope_mv is None else ph_slope_mv
    e0 = e0_mv - per_ph * (ph - PH_REFERENCE)
    if chloride_ratio == 1.0:
        return e0
    return e0 - half * math.log10(Range("chloride ratio", 0.01, 100.0, "").check(chloride_ratio))


def _slope_at(slope_mv_decade: float, temp_c: float) -> float:
    SLOPE.check(slope_mv_decade)
    return slope_mv_decade * (ranges.TEMPERATURE.check(temp_c) + 273.15) / 298.15


def orp_theory_mv(hocl_mg_l: float, ph: float, salt_g_l: float, temp_c: float = 25.0) -> float:
    """Nernst potential of HOCl + H+ + 2 e- = Cl- + H2O against hydrogen, activities taken as concentrations. [mV]

    For slopes and signs only: electrodes in pools read 200-400 mV lower.
    """
    if hocl_mg_l <= 0.0 or salt_g_l <= 0.0:
        raise ValueError(f"HOCl = {hocl_mg_l!r} mg/L, salt = {salt_g_l!r} g/L: accepted is more than 0 of both")
    hocl = ranges.HOCL.check(hocl_mg_l) / (1000.0 * CL2_G_MOL)
    chloride = ranges.SALT.check(salt_g_l) / NACL_G_MOL
    return E0_THEORY_MV + 0.5 * nernst_slope_mv(temp_c) * (math.log10(hocl) - ranges.PH.check(ph) - math.log10(chloride))
