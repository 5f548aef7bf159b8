"""Carbon dioxide between pool and air: why the pH of an aerated pool climbs while its alkalinity stays."""

import math

from dosectl.chemistry import buffering, ranges
from dosectl.chemistry.activity import ionic_strength_from_salt
from dosectl.chemistry.buffering import FRESH_IONIC_STRENGTH, MG_CACO3_PER_EQ, Buffers, Constants
from dosectl.chemistry.ranges import Range

AIR_CO2_ATM = 420e-6  # recent outdoor air
CO2_PRESSURE = Range("CO2 pressure", 1e-6, 1.0, "atm")
# Transfer velocity of CO2 at a quiet pool surface; a few cm/h, more with waterfalls, bubbles and wind. Common
# practice.
KL_QUIET_CM_H = 2.0
KL = Range("transfer velocity", 0.0, 500.0, "cm/h")
WIND = Range("wind", 0.0, 60.0, "m/s")


def co2_mol_l(ph: float, dic_mol_l: float, k: Constants) -> float:
    """Dissolved CO2 of a water. [mol/L]"""
    h = math.pow(10.0, -ph)
    r1 = k.k1 / h
    return dic_mol_l / (1.0 + r1 + r1 * k.k2 / h)


def co2_pressure_atm(
    ta_mg_l: float,
    cya_mg_l: float,
    ph: float,
    *,
    borate_b_mg_l: float = 0.0,
    temp_c: float = 25.0,
    salt_g_l: float = 0.0,
) -> float:
    """CO2 pressure that the water would be in balance with. [atm]. Air has 420e-6; pools at pH 7.5 some 5-10 times that."""
    k = buffering.constants(temp_c, ionic_strength_from_salt(salt_g_l))
    other = buffering.buffers(cya_mg_l, borate_b_mg_l)
    ta = ranges.ALKALINITY.check(ta_mg_l) / MG_CACO3_PER_EQ
    dic = buffering.dic_mol_l(ranges.WATER_PH.check(ph), ta, other, k)
    return co2_mol_l(ph, dic, k) / k.kh


def ph_at_air_equilibrium(
    ta_mg_l: float,
    cya_mg_l: float = 0.0,
    *,
    borate_b_mg_l: float = 0.0,
    temp_c: float = 25.0,
    salt_g_l: float = 0.0,
    co2_atm: float = AIR_CO2_ATM,
) -> float:
    """Where the pH of this alkalinity ends when it is left with air: the far end of the upward drift."""
    k = buffering.constants(temp_c, ionic_strength_from_salt(salt_g_l))
    ta = ranges.ALKALINITY.check(ta_mg_l) / MG_CACO3_PER_EQ
    co2 = k.kh * CO2_PRESSURE.check(co2_atm)
    other = buffering.buffers(cya_mg_l, borate_b_mg_l)
    # Halving is slow but can't fail, and nobody asks this in a loop.
    low, high = 3.0, 11.0
    for _ in range(40):
        ph = 0.5 * (low + high)
        low, high = (ph, high) if _open_alkalinity(ph, co2, other, k) < ta else (low, ph)
    return 0.5 * (low + high)


def _open_alkalinity(ph: float, co2: float, other: Buffers, k: Constants) -> float:
    h = math.pow(10.0, -ph)
    return co2 * k.k1 / h * (1.0 + 2.0 * k.k2 / h) + buffering.other_alkalinity_eq_l(h, other, k)


def transfer_velocity_cm_h(wind_m_s: float, quiet_cm_h: float = KL_QUIET_CM_H) -> float:
    """Transfer velocity with wind: quiet + 0.251 U2 (at the Schmidt number of 660). [cm/h]

    Source of the wind term: Wanninkhof's quadratic for open water, from memory; a sheltered pool has less. Fit on
    site.
    """
    return KL.check(quiet_cm_h) + 0.251 * math.pow(WIND.check(wind_m_s), 2.0)


def outgassing_mmol_l_s(
    ph: float,
    dic_mmol_l: float,
    depth_m: float,
    *,
    kl_cm_h: float = KL_QUIET_CM_H,
    temp_c: float = 25.0,
    ionic_strength: float = FRESH_IONIC_STRENGTH,
    co2_atm: float = AIR_CO2_ATM,
    k: Constants | None = None,
) -> float:
    """Inorganic carbon lost to the air. [mmol/L s], negative when the water takes CO2 up. Alkalinity does not change.

    kL ([CO2] - [CO2] in balance) / depth, with the mean depth (volume by surface). `k` saves making the constants
    anew.
    """
    constants = buffering.constants(temp_c, ionic_strength) if k is None else k
    co2 = co2_mol_l(ranges.WATER_PH.check(ph), ranges.DIC.check(dic_mmol_l), constants)
    balanced = 1000.0 * constants.kh * CO2_PRESSURE.check(co2_atm)
    return KL.check(kl_cm_h) / 100.0 / 3600.0 * (co2 - balanced) / ranges.DEPTH.check(depth_m)
