"""pH, alkalinity, acid and base of pool water, in the units that people test in.

Alkalinity is total: what a titration finds, cyanurate, borate and standing chlorine included. Every answer is for a
closed water: what the air adds or takes afterwards is in `gas_exchange`. `ring_temp_c` is told in `buffering`.
"""

import math

from dosectl.chemistry import ranges
from dosectl.chemistry.activity import ionic_strength_from_salt
from dosectl.chemistry.buffering import (
    BORON_G_MOL,
    FRESH_IONIC_STRENGTH,
    MG_CACO3_PER_EQ,
    Buffers,
    Constants,
    alkalinity_eq_l,
    buffers,
    carbonate_share,
    constants,
    dic_mol_l,
    solve_ph,
)

__all__ = [
    "FRESH_IONIC_STRENGTH",
    "MG_CACO3_PER_EQ",
    "Buffers",
    "Constants",
    "acid_demand_meq_l",
    "base_demand_mmol_l",
    "buffers",
    "constants",
    "dic_mol_l",
    "ionic_strength_from_salt",
    "ph_after_acid",
    "ph_after_change",
    "ph_from_alkalinity",
    "solve_ph",
    "total_alkalinity_to_dic",
    "units_for_ph",
]


def total_alkalinity_to_dic(
    ta_mg_l: float,
    ph: float,
    cya_mg_l: float = 0.0,
    borate_b_mg_l: float = 0.0,
    temp_c: float = 25.0,
    ionic_strength: float = FRESH_IONIC_STRENGTH,
    *,
    ring_temp_c: float = 25.0,
    free_chlorine_mg_l: float = 0.0,
) -> float:
    """Dissolved inorganic carbon of a water tested for total alkalinity and pH. [mmol/L]; see `dic_mol_l`."""
    k = constants(temp_c, ionic_strength, ring_temp_c)
    ta = ranges.ALKALINITY.check(ta_mg_l) / MG_CACO3_PER_EQ
    return 1000.0 * dic_mol_l(ranges.WATER_PH.check(ph), ta, buffers(cya_mg_l, borate_b_mg_l, free_chlorine_mg_l), k)


def ph_from_alkalinity(
    ta_mg_l: float,
    dic_mmol_l: float,
    cya_mg_l: float = 0.0,
    borate_b_mg_l: float = 0.0,
    temp_c: float = 25.0,
    ionic_strength: float = FRESH_IONIC_STRENGTH,
    *,
    ring_temp_c: float = 25.0,
    free_chlorine_mg_l: float = 0.0,
) -> float:
    """pH of a closed water. Inverse of `total_alkalinity_to_dic`. Alkalinity may be negative (acid left over)."""
    k = constants(temp_c, ionic_strength, ring_temp_c)
    if not -500.0 <= ta_mg_l <= ranges.ALKALINITY.high:
        ranges.ALKALINITY.check(ta_mg_l)
    ta = ta_mg_l / MG_CACO3_PER_EQ
    return solve_ph(ta, ranges.DIC.check(dic_mmol_l) / 1000.0, buffers(cya_mg_l, borate_b_mg_l, free_chlorine_mg_l), k)


def acid_demand_meq_l(
    ta_mg_l: float,
    cya_mg_l: float,
    ph_from: float,
    ph_to: float,
    *,
    borate_b_mg_l: float = 0.0,
    temp_c: float = 25.0,
    salt_g_l: float = 0.0,
    ring_temp_c: float = 25.0,
    free_chlorine_mg_l: float = 0.0,
) -> float:
    """Strong acid that takes a closed water from one pH to a lower one. [meq/L = mol/m3 of HCl], never negative.

    Raises ValueError when `ph_to` is above `ph_from`: that takes a base, see `base_demand_mmol_l`.
    """
    if ph_to > ph_from:
        raise ValueError(f"pH = {ph_to!r} wanted from {ph_from!r}: accepted is at most the present pH; acid can't raise it")
    k = constants(temp_c, ionic_strength_from_salt(salt_g_l), ring_temp_c)
    other = buffers(cya_mg_l, borate_b_mg_l, free_chlorine_mg_l)
    ta, dic = _titrated(ta_mg_l, ph_from, other, k)
    return 1000.0 * (ta - alkalinity_eq_l(ranges.WATER_PH.check(ph_to), dic, other, k))


def _titrated(ta_mg_l: float, ph: float, other: Buffers, k: Constants) -> tuple[float, float]:
    """Alkalinity [eq/L] and inorganic carbon [mol/L] from what was tested."""
    ta = ranges.ALKALINITY.check(ta_mg_l) / MG_CACO3_PER_EQ
    return ta, dic_mol_l(ranges.WATER_PH.check(ph), ta, other, k)


def base_demand_mmol_l(
    ta_mg_l: float,
    cya_mg_l: float,
    ph_from: float,
    ph_to: float,
    *,
    eq_per_mol: float = 2.0,
    carbon_per_mol: float = 1.0,
    borate_b_mg_l: float = 0.0,
    temp_c: float = 25.0,
    salt_g_l: float = 0.0,
    ring_temp_c: float = 25.0,
    free_chlorine_mg_l: float = 0.0,
) -> float:
    """Base that takes a closed water to a higher pH. [mmol/L = mol/m3]

    Soda ash is (2 eq, 1 carbon) per mol, the default; bicarbonate (1, 1), caustic (1, 0), borax (2, 0, its boron
    left out). Raises ValueError when that base can't reach the pH: bicarbonate never passes about 8.3.
    """
    if ph_to < ph_from:
        raise ValueError(f"pH = {ph_to!r} wanted from {ph_from!r}: accepted is at least the present pH; a base can't lower it")
    k = constants(temp_c, ionic_strength_from_salt(salt_g_l), ring_temp_c)
    other = buffers(cya_mg_l, borate_b_mg_l, free_chlorine_mg_l)
    ta, dic = _titrated(ta_mg_l, ph_from, other, k)
    lacking = alkalinity_eq_l(ranges.WATER_PH.check(ph_to), dic, other, k) - ta
    # Alkalinity wanted at the target rises with each mole's carbon too, so the balance is linear in the moles.
    gain = eq_per_mol - carbon_per_mol * carbonate_share(math.pow(10.0, -ph_to), k)
    if gain <= 1e-3:
        raise ValueError(f"pH = {ph_to!r} wanted: accepted is less; this base carries too much carbonate to reach it")
    return 1000.0 * lacking / gain


def units_for_ph(
    ta_mg_l: float,
    cya_mg_l: float,
    ph_from: float,
    ph_to: float,
    *,
    ta_per_unit_mg_l: float,
    dic_per_unit_mmol_l: float = 0.0,
    borate_per_unit_b_mg_l: float = 0.0,
    borate_b_mg_l: float = 0.0,
    temp_c: float = 25.0,
    salt_g_l: float = 0.0,
    free_chlorine_mg_l: float = 0.0,
) -> float:
    """How many units of what moves alkalinity, carbon and borate bring a closed water to a pH; negative or infinite: none do.

    At the target every one of the three is linear in the amount, so the balance is solved in one step.
    """
    k = constants(temp_c, ionic_strength_from_salt(salt_g_l))
    other = buffers(cya_mg_l, borate_b_mg_l, free_chlorine_mg_l)
    ta, dic = _titrated(ta_mg_l, ph_from, other, k)
    h = math.pow(10.0, -ranges.WATER_PH.check(ph_to))
    held = dic_per_unit_mmol_l / 1000.0 * carbonate_share(h, k)
    held += borate_per_unit_b_mg_l / (1000.0 * BORON_G_MOL) * k.kb / (k.kb + h)
    gain = ta_per_unit_mg_l / MG_CACO3_PER_EQ - held
    lacking = alkalinity_eq_l(ph_to, dic, other, k) - ta
    return lacking / gain if gain != 0.0 else math.inf


def ph_after_change(
    ta_mg_l: float,
    cya_mg_l: float,
    ph: float,
    *,
    ta_change_mg_l: float = 0.0,
    dic_change_mmol_l: float = 0.0,
    cya_change_mg_l: float = 0.0,
    free_chlorine_change_mg_l: float = 0.0,
    borate_change_b_mg_l: float = 0.0,
    borate_b_mg_l: float = 0.0,
    temp_c: float = 25.0,
    salt_g_l: float = 0.0,
    ring_temp_c: float = 25.0,
    free_chlorine_mg_l: float = 0.0,
) -> float:
    """pH of a closed, mixed water after anything was added, told by how alkalinity, carbon and buffers change."""
    k = constants(temp_c, ionic_strength_from_salt(salt_g_l), ring_temp_c)
    ta, dic = _titrated(ta_mg_l, ph, buffers(cya_mg_l, borate_b_mg_l, free_chlorine_mg_l), k)
    change = ranges.ALKALINITY_CHANGE.check(ta_change_mg_l) / MG_CACO3_PER_EQ
    after = buffers(
        cya_mg_l + cya_change_mg_l,
        borate_b_mg_l + borate_change_b_mg_l,
        max(0.0, free_chlorine_mg_l + free_chlorine_change_mg_l),
    )
    carbon = ranges.DIC.check(1000.0 * dic + dic_change_mmol_l) / 1000.0
    return solve_ph(ta + change, carbon, after, k)


def ph_after_acid(
    ta_mg_l: float,
    cya_mg_l: float,
    ph: float,
    acid_mg_l_caco3: float,
    *,
    borate_b_mg_l: float = 0.0,
    temp_c: float = 25.0,
    salt_g_l: float = 0.0,
    ring_temp_c: float = 25.0,
    free_chlorine_mg_l: float = 0.0,
) -> float:
    """pH after acid that takes `acid_mg_l_caco3` of alkalinity away (1 meq/L is 50.04), closed water, mixed.

    A negative figure is a strong base (NaOH) that adds so much.
    """
    return ph_after_change(
        ta_mg_l,
        cya_mg_l,
        ph,
        ta_change_mg_l=-acid_mg_l_caco3,
        borate_b_mg_l=borate_b_mg_l,
        temp_c=temp_c,
        salt_g_l=salt_g_l,
        ring_temp_c=ring_temp_c,
        free_chlorine_mg_l=free_chlorine_mg_l,
    )
