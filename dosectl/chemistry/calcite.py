"""Calcite balance of the water: does it deposit scale or dissolve plaster and grout?

Standard Methods 2330 B form, from memory; agrees with PHREEQC within -0.01/+0.04 over pool waters. All saturation
indices are guides only: inside a chlorinator the film at the cathode is far more alkaline and scales below index 0.
"""

import math

from dosectl.chemistry import buffering, ranges
from dosectl.chemistry.activity import NACL_G_MOL, debye_huckel_a
from dosectl.chemistry.buffering import MG_CACO3_PER_EQ
from dosectl.chemistry.ranges import Range

CACO3_MG_MOL = 100_087.0


def log_ksp_calcite(t: float) -> float:
    """log10 Ksp of calcite, t in kelvin. Source: Plummer & Busenberg (1982)."""
    return -171.9065 - 0.077993 * t + 2839.319 / t + 71.595 * math.log10(t)


def ionic_strength_of_water(salt_g_l: float, hardness_mg_l: float, carbonate_alkalinity_mg_l: float) -> float:
    """Ionic strength from salt, calcium (taken as the chloride) and alkalinity (as sodium bicarbonate). [mol/L]"""
    return (
        ranges.SALT.check(salt_g_l) / NACL_G_MOL
        + 3.0 * ranges.HARDNESS.check(hardness_mg_l) / CACO3_MG_MOL
        + max(0.0, carbonate_alkalinity_mg_l) / MG_CACO3_PER_EQ
    )


def carbonate_alkalinity_mg_l(
    ta_mg_l: float,
    ph: float,
    cya_mg_l: float = 0.0,
    borate_b_mg_l: float = 0.0,
    temp_c: float = 25.0,
    ionic_strength: float = 0.06,
) -> float:
    """Total alkalinity less what cyanurate and borate hold at this pH. [mg/L as CaCO3]; OH- and H+ stay in it."""
    k = buffering.constants(temp_c, ionic_strength)
    h = 10.0 ** -ranges.WATER_PH.check(ph)
    other = buffering.buffers(cya_mg_l, borate_b_mg_l)
    held = buffering.other_alkalinity_eq_l(h, other, k) - buffering.other_alkalinity_eq_l(h, buffering.Buffers(), k)
    return ranges.ALKALINITY.check(ta_mg_l) - held * MG_CACO3_PER_EQ


def saturation_index(
    ph: float,
    ta_mg_l: float,
    hardness_mg_l: float,
    *,
    cya_mg_l: float = 0.0,
    borate_b_mg_l: float = 0.0,
    temp_c: float = 25.0,
    salt_g_l: float = 0.0,
) -> float:
    """Langelier index pH - pHs with carbonate alkalinity; above 0 calcite deposits, below 0 it dissolves.

    Parameters: total alkalinity and calcium hardness in mg/L as CaCO3, cyanuric acid in mg/L, borate in mg/L as B,
    salt in g/L. Raises ValueError outside the ranges, and when no calcium or no carbonate is left to balance.
    """
    ranges.ALKALINITY.check(ta_mg_l)
    ionic = ionic_strength_of_water(salt_g_l, hardness_mg_l, ta_mg_l)
    alkalinity = carbonate_alkalinity_mg_l(ta_mg_l, ph, cya_mg_l, borate_b_mg_l, temp_c, ionic)
    if hardness_mg_l <= 0.0 or alkalinity <= 0.0:
        raise ValueError(
            f"calcium hardness = {hardness_mg_l:g} mg/L, carbonate alkalinity = {alkalinity:.0f} mg/L: accepted is more than 0 "
            "of both; without them the water has no calcite balance and dissolves cement"
        )
    t = ranges.TEMPERATURE.check(temp_c) + 273.15
    root = math.sqrt(ionic)
    pfm = debye_huckel_a(temp_c) * (root / (1.0 + root) - 0.3 * ionic)
    pk2 = -buffering.log_k2(t)
    h = 10.0**-ph
    k2 = 10.0 ** (3.0 * pfm - pk2)  # H+ as activity: gamma1/gamma2 = 10^(4 pfm - pfm)
    h_conc, oh_conc = h * 10.0**pfm, 10.0 ** (buffering.log_kw(t) + pfm) / h
    bicarbonate = (alkalinity / MG_CACO3_PER_EQ + h_conc - oh_conc) / (1.0 + 2.0 * k2 / h)
    if bicarbonate <= 0.0:
        raise ValueError(f"carbonate alkalinity = {alkalinity:.1f} mg/L at pH {ph:g}: accepted is more than OH- alone explains")
    phs = pk2 + log_ksp_calcite(t) - math.log10(hardness_mg_l / CACO3_MG_MOL) - math.log10(bicarbonate) + 5.0 * pfm
    return ph - phs


def saturation_index_one_line(
    ph: float, carbonate_alkalinity: float, hardness_mg_l: float, *, temp_c: float = 25.0, salt_g_l: float = 0.0
) -> float:
    """The often printed short form, pHs = 9.3 + A + B - C - D. Kept to be compared with, never used for an answer.

    It shows only a third of the effect of salt and is up to 0.2 off; with total alkalinity in place of carbonate
    alkalinity up to 0.27. Dissolved solids are taken as salt, hardness and alkalinity together. Source: Carrier
    type, from memory.
    """
    ranges.WATER_PH.check(ph)
    if hardness_mg_l <= 0.0 or carbonate_alkalinity <= 0.0:
        raise ValueError(f"calcium hardness = {hardness_mg_l!r}, alkalinity = {carbonate_alkalinity!r} mg/L: accepted is above 0")
    alkalinity = ranges.ALKALINITY.check(carbonate_alkalinity)
    solids = 1000.0 * ranges.SALT.check(salt_g_l) + ranges.HARDNESS.check(hardness_mg_l) + alkalinity
    a = (math.log10(solids) - 1.0) / 10.0
    b = 34.55 - 13.12 * math.log10(ranges.TEMPERATURE.check(temp_c) + 273.15)
    return ph - (9.3 + a + b - (math.log10(hardness_mg_l) - 0.4) - math.log10(alkalinity))


def ph_at_saturation(
    index: float,
    ta_mg_l: float,
    hardness_mg_l: float,
    *,
    cya_mg_l: float = 0.0,
    borate_b_mg_l: float = 0.0,
    temp_c: float = 25.0,
    salt_g_l: float = 0.0,
) -> float:
    """The pH at which the water would have this saturation index, everything else as it is.

    Searched in pH 6-9; raises ValueError where it lies beyond.
    """
    Range("saturation index", -5.0, 5.0, "").check(index)

    def short_by(ph: float) -> float:
        return index - saturation_index(
            ph, ta_mg_l, hardness_mg_l, cya_mg_l=cya_mg_l, borate_b_mg_l=borate_b_mg_l, temp_c=temp_c, salt_g_l=salt_g_l
        )

    low, high = 6.0, 9.0
    if short_by(low) < 0.0 or short_by(high) > 0.0:
        raise ValueError(
            f"saturation index = {index:g} wanted: accepted is one that this water has between pH {low:g} and {high:g}"
        )
    for _ in range(40):
        ph = 0.5 * (low + high)
        low, high = (ph, high) if short_by(ph) > 0.0 else (low, ph)
    return 0.5 * (low + high)
