"""pH, alkalinity and carbon dioxide of pool water, with cyanurate and borate as buffers.

Constants: Plummer & Busenberg (1982), Geochim. Cosmochim. Acta 46:1011; Kw, boric acid and the two sodium pairs as
in the PHREEQC database phreeqc.dat. The pairs NaHCO3 and NaCO3- count: without them acid is up to 23 % too little
from high pH.

Cyanuric acid keeps O'Brien's 25 C constant (pK 6.88) at every temperature unless `ring_temp_c` is given, then the
published slope with temperature is used. Both are found in use; in cold water with much cyanurate they differ by up
to half of the acid, and the second asks for more. The first is the default because the chlorine on the ring is
known at 25 C only.

Alkalinity is total: what a titration finds, cyanurate and borate included. pH is -log10 of the activity of H+; all
else is in concentrations.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

from dosectl.chemistry import cyanurate, ranges
from dosectl.chemistry.activity import davies_gamma, debye_huckel_a, sodium_mol_l
from dosectl.chemistry.activity import ionic_strength_from_salt as ionic_strength_from_salt

MG_CACO3_PER_EQ = 50_043.5  # half the molar mass of CaCO3
BORON_G_MOL = 10.81
FRESH_IONIC_STRENGTH = 0.005
_R_KCAL = 1.987204e-3


def log_k1(t: float) -> float:
    """log10 K1 of CO2(aq) + H2O = HCO3- + H+, t in kelvin."""
    return -356.3094 - 0.06091964 * t + 21834.37 / t + 126.8339 * math.log10(t) - 1684915.0 / (t * t)


def log_k2(t: float) -> float:
    """log10 K2 of HCO3- = CO3-- + H+, t in kelvin."""
    return -107.8871 - 0.03252849 * t + 5151.79 / t + 38.92561 * math.log10(t) - 563713.9 / (t * t)


def log_kh(t: float) -> float:
    """log10 of the Henry constant of CO2, mol/L atm, t in kelvin."""
    return 108.3865 + 0.01985076 * t - 6919.53 / t - 40.45154 * math.log10(t) + 669365.0 / (t * t)


def log_kw(t: float) -> float:
    """log10 Kw, t in kelvin."""
    return 293.29227 + 0.1360833 * t - 10576.913 / t - 123.73158 * math.log10(t) - 6.996455e-5 * t * t


def _van_t_hoff(log_k25: float, enthalpy_kcal: float, t: float) -> float:
    return log_k25 + enthalpy_kcal / (_R_KCAL * math.log(10.0)) * (1.0 / 298.15 - 1.0 / t)


@dataclass(frozen=True, slots=True)
class Constants:
    """Constants of one water at one temperature and ionic strength, H+ as activity and the rest as concentrations.

    k1, k2 are those of the sums HCO3- + NaHCO3 and CO3-- + NaCO3-. Make them once with `constants` and keep them: a
    pool's temperature and salt change slowly, and a solution for pH then costs a few microseconds.
    """

    k1: float
    k2: float
    kw: float  # activity of H+ times concentration of OH-
    kb: float
    k6: float
    k10: float
    kh: float
    gamma1: float
    gamma2: float
    bicarbonate_free: float  # share of HCO3- + NaHCO3 that is HCO3-


def constants(temp_c: float = 25.0, ionic_strength: float = FRESH_IONIC_STRENGTH, ring_temp_c: float = 25.0) -> Constants:
    """The constants of a water. `ring_temp_c`: see the module's text. Raises ValueError outside 0-50 C, 0-1 mol/L."""
    t = ranges.TEMPERATURE.check(temp_c) + 273.15
    ranges.IONIC_STRENGTH.check(ionic_strength)
    a = debye_huckel_a(temp_c)
    g1, g2 = davies_gamma(1, ionic_strength, a), davies_gamma(2, ionic_strength, a)
    sodium = sodium_mol_l(ionic_strength)
    pair_hco3 = 1.0 + 10.0 ** _van_t_hoff(-0.25, -1.0, t) * sodium * g1 * g1
    pair_co3 = 1.0 + 10.0 ** _van_t_hoff(1.27, 8.91, t) * sodium * g2
    return Constants(
        k1=10.0 ** log_k1(t) / g1 * pair_hco3,
        k2=10.0 ** log_k2(t) * g1 / g2 * pair_co3 / pair_hco3,
        kw=10.0 ** log_kw(t) / g1,
        kb=10.0 ** _van_t_hoff(-9.24, 3.224, t) / g1,
        k6=10.0 ** -cyanurate.pk6(ranges.TEMPERATURE.check(ring_temp_c)) / g1,
        k10=10.0**-cyanurate.PK_H2CY * g1 / g2,
        kh=10.0 ** log_kh(t),
        gamma1=g1,
        gamma2=g2,
        bicarbonate_free=1.0 / pair_hco3,
    )


@dataclass(frozen=True, slots=True)
class Buffers:
    """Totals of what buffers the water beside carbonate. [mol/L]"""

    ring: float = 0.0
    boron: float = 0.0


def buffers(cya_mg_l: float = 0.0, borate_b_mg_l: float = 0.0) -> Buffers:
    """From what people test: cyanuric acid and borate as B. [mg/L]"""
    return Buffers(
        ranges.CYANURIC_ACID.check(cya_mg_l) / (1000.0 * cyanurate.CYANURIC_ACID_G_MOL),
        ranges.BORATE.check(borate_b_mg_l) / (1000.0 * BORON_G_MOL),
    )


def other_alkalinity_eq_l(h: float, other: Buffers, k: Constants) -> float:
    """Alkalinity that is not carbonate: cyanurate, borate, OH- less H+. [eq/L]"""
    r6 = k.k6 / h
    r10 = r6 * k.k10 / h
    ring = other.ring * (r6 + 2.0 * r10) / (1.0 + r6 + r10)
    return ring + other.boron * k.kb / (k.kb + h) + k.kw / h - h / k.gamma1


def carbonate_share(h: float, k: Constants) -> float:
    """Equivalents of carbonate alkalinity per mole of dissolved inorganic carbon."""
    r1 = k.k1 / h
    r2 = r1 * k.k2 / h
    return (r1 + 2.0 * r2) / (1.0 + r1 + r2)


def alkalinity_eq_l(ph: float, dic_mol_l: float, other: Buffers, k: Constants) -> float:
    """Total alkalinity at a pH. [eq/L]. Rises strictly with pH."""
    h = 10.0**-ph
    return dic_mol_l * carbonate_share(h, k) + other_alkalinity_eq_l(h, other, k)


def dic_mol_l(ph: float, alkalinity_eq: float, other: Buffers, k: Constants) -> float:
    """Dissolved inorganic carbon from pH and total alkalinity. [mol/L]

    Raises ValueError when cyanurate and borate alone would hold more alkalinity than was found: one of the tests is
    wrong.
    """
    h = 10.0**-ph
    carbonate = alkalinity_eq - other_alkalinity_eq_l(h, other, k)
    if carbonate < 0.0:
        raise ValueError(
            f"total alkalinity = {alkalinity_eq * MG_CACO3_PER_EQ:.0f} mg/L at pH {ph:.2f}: cyanurate and borate alone hold "
            f"{(alkalinity_eq - carbonate) * MG_CACO3_PER_EQ:.0f} mg/L; accepted is at least that, so test alkalinity and "
            "stabiliser again"
        )
    return carbonate / carbonate_share(h, k)


def rising_root(f: Callable[[float], float], low: float, high: float) -> float:
    """Root of a rising function, by false position with Illinois weights; the bracket is kept throughout."""
    f_low, f_high = f(low), f(high)
    if f_low > 0.0 or f_high < 0.0:
        raise ValueError(f"pH outside {low:g} to {high:g}: accepted is a water whose pH lies in that range")
    x = low
    for _ in range(100):
        x = low - f_low * (high - low) / (f_high - f_low) if f_high != f_low else 0.5 * (low + high)
        fx = f(x)
        if fx == 0.0 or high - low < 1e-10:
            return x
        if fx < 0.0:
            if x - low < 1e-9:
                return x
            low, f_low, f_high = x, fx, 0.5 * f_high
        else:
            if high - x < 1e-9:
                return x
            high, f_high, f_low = x, fx, 0.5 * f_low
    return x


def solve_ph(alkalinity_eq: float, dic: float, other: Buffers, k: Constants) -> float:
    """pH of a closed water from its alkalinity [eq/L] and inorganic carbon [mol/L]. ValueError outside pH 3-12."""
    return rising_root(lambda ph: alkalinity_eq_l(ph, dic, other, k) - alkalinity_eq, 3.0, 12.0)


def total_alkalinity_to_dic(
    ta_mg_l: float,
    ph: float,
    cya_mg_l: float = 0.0,
    borate_b_mg_l: float = 0.0,
    temp_c: float = 25.0,
    ionic_strength: float = FRESH_IONIC_STRENGTH,
    *,
    ring_temp_c: float = 25.0,
) -> float:
    """Dissolved inorganic carbon of a water tested for total alkalinity and pH. [mmol/L]; see `dic_mol_l`."""
    k = constants(temp_c, ionic_strength, ring_temp_c)
    ta = ranges.ALKALINITY.check(ta_mg_l) / MG_CACO3_PER_EQ
    return 1000.0 * dic_mol_l(ranges.WATER_PH.check(ph), ta, buffers(cya_mg_l, borate_b_mg_l), k)


def ph_from_alkalinity(
    ta_mg_l: float,
    dic_mmol_l: float,
    cya_mg_l: float = 0.0,
    borate_b_mg_l: float = 0.0,
    temp_c: float = 25.0,
    ionic_strength: float = FRESH_IONIC_STRENGTH,
    *,
    ring_temp_c: float = 25.0,
) -> float:
    """pH of a closed water. Inverse of `total_alkalinity_to_dic`. Alkalinity may be negative (acid left over)."""
    k = constants(temp_c, ionic_strength, ring_temp_c)
    if not -500.0 <= ta_mg_l <= ranges.ALKALINITY.high:
        ranges.ALKALINITY.check(ta_mg_l)
    ta = ta_mg_l / MG_CACO3_PER_EQ
    return solve_ph(ta, ranges.DIC.check(dic_mmol_l) / 1000.0, buffers(cya_mg_l, borate_b_mg_l), k)


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
) -> float:
    """Strong acid that takes a closed water from one pH to a lower one. [meq/L = mol/m3 of HCl], never negative.

    Raises ValueError when `ph_to` is above `ph_from`: that takes a base, see `base_demand_mmol_l`.
    """
    if ph_to > ph_from:
        raise ValueError(f"pH = {ph_to!r} wanted from {ph_from!r}: accepted is at most the present pH; acid can't raise it")
    k = constants(temp_c, ionic_strength_from_salt(salt_g_l), ring_temp_c)
    other = buffers(cya_mg_l, borate_b_mg_l)
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
) -> float:
    """Base that takes a closed water to a higher pH. [mmol/L = mol/m3]

    Soda ash is (2 eq, 1 carbon) per mol, the default; bicarbonate (1, 1), caustic (1, 0), borax (2, 0, its boron
    left out). Raises ValueError when that base can't reach the pH: bicarbonate never passes about 8.3.
    """
    if ph_to < ph_from:
        raise ValueError(f"pH = {ph_to!r} wanted from {ph_from!r}: accepted is at least the present pH; a base can't lower it")
    k = constants(temp_c, ionic_strength_from_salt(salt_g_l), ring_temp_c)
    other = buffers(cya_mg_l, borate_b_mg_l)
    ta, dic = _titrated(ta_mg_l, ph_from, other, k)
    lacking = alkalinity_eq_l(ranges.WATER_PH.check(ph_to), dic, other, k) - ta
    # Alkalinity wanted at the target rises with each mole's carbon too, so the balance is linear in the moles.
    gain = eq_per_mol - carbon_per_mol * carbonate_share(10.0**-ph_to, k)
    if gain <= 1e-3:
        raise ValueError(f"pH = {ph_to!r} wanted: accepted is less; this base carries too much carbonate to reach it")
    return 1000.0 * lacking / gain


def ph_after_change(
    ta_mg_l: float,
    cya_mg_l: float,
    ph: float,
    *,
    ta_change_mg_l: float = 0.0,
    dic_change_mmol_l: float = 0.0,
    cya_change_mg_l: float = 0.0,
    borate_change_b_mg_l: float = 0.0,
    borate_b_mg_l: float = 0.0,
    temp_c: float = 25.0,
    salt_g_l: float = 0.0,
    ring_temp_c: float = 25.0,
) -> float:
    """pH of a closed, mixed water after anything was added, told by how alkalinity, carbon and buffers change."""
    k = constants(temp_c, ionic_strength_from_salt(salt_g_l), ring_temp_c)
    ta, dic = _titrated(ta_mg_l, ph, buffers(cya_mg_l, borate_b_mg_l), k)
    change = ranges.ALKALINITY_CHANGE.check(ta_change_mg_l) / MG_CACO3_PER_EQ
    after = buffers(cya_mg_l + cya_change_mg_l, borate_b_mg_l + borate_change_b_mg_l)
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
    )
