"""The acid-base balance of pool water: constants, buffers, and the solution for pH. In mol/L and eq/L.

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
from dataclasses import dataclass

from dosectl.chemistry import cyanurate, ranges
from dosectl.chemistry.activity import davies_gamma, debye_huckel_a, sodium_mol_l

MG_CACO3_PER_EQ = 50_043.5  # half the molar mass of CaCO3
BORON_G_MOL = 10.81
FRESH_IONIC_STRENGTH = 0.005
LOWEST_PH, HIGHEST_PH = 2.0, 12.5  # beyond them no water is solved
_R_KCAL = 1.987204e-3
_LN10 = math.log(10.0)


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
    return log_k25 + enthalpy_kcal / (_R_KCAL * _LN10) * (1.0 / 298.15 - 1.0 / t)


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
    k_hocl: float
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
        k_hocl=cyanurate.K_HOCL / g1,
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
    chlorine: float = 0.0


def buffers(cya_mg_l: float = 0.0, borate_b_mg_l: float = 0.0, free_chlorine_mg_l: float = 0.0) -> Buffers:
    """From what people test: cyanuric acid, borate as B, free chlorine as Cl2. [mg/L]

    Free chlorine may be left at 0 where 1 mg/L of alkalinity does not matter: a titration finds 0.7 mg/L of it per
    mg/L.
    """
    return Buffers(
        ranges.CYANURIC_ACID.check(cya_mg_l) / (1000.0 * cyanurate.CYANURIC_ACID_G_MOL),
        ranges.BORATE.check(borate_b_mg_l) / (1000.0 * BORON_G_MOL),
        ranges.FREE_CHLORINE.check(free_chlorine_mg_l) / (1000.0 * cyanurate.CL2_G_MOL),
    )


def other_alkalinity_eq_l(h: float, other: Buffers, k: Constants) -> float:
    """Alkalinity that is not carbonate: cyanurate, borate, standing chlorine, OH- less H+. [eq/L]"""
    rest = other.boron * k.kb / (k.kb + h) + k.kw / h - h / k.gamma1
    if other.chlorine > 0.0:  # ring and chlorine share their forms: what fills the ring is not there as H2Cy- any more
        return rest + cyanurate.charge_eq_l(h, other.chlorine, other.ring, k.k_hocl, k.k6, k.k10, k.gamma1, k.gamma2)
    r6 = k.k6 / h
    r10 = r6 * k.k10 / h
    return rest + other.ring * (r6 + 2.0 * r10) / (1.0 + r6 + r10)


def carbonate_share(h: float, k: Constants) -> float:
    """Equivalents of carbonate alkalinity per mole of dissolved inorganic carbon."""
    r1 = k.k1 / h
    r2 = r1 * k.k2 / h
    return (r1 + 2.0 * r2) / (1.0 + r1 + r2)


def alkalinity_eq_l(ph: float, dic_mol_l: float, other: Buffers, k: Constants) -> float:
    """Total alkalinity at a pH. [eq/L]. Rises strictly with pH."""
    h = math.pow(10.0, -ph)
    return dic_mol_l * carbonate_share(h, k) + other_alkalinity_eq_l(h, other, k)


def dic_mol_l(ph: float, alkalinity_eq: float, other: Buffers, k: Constants) -> float:
    """Dissolved inorganic carbon from pH and total alkalinity. [mol/L]

    Raises ValueError when cyanurate and borate alone would hold more alkalinity than was found: one of the tests is
    wrong.
    """
    h = math.pow(10.0, -ph)
    carbonate = alkalinity_eq - other_alkalinity_eq_l(h, other, k)
    if carbonate < 0.0:
        raise ValueError(
            f"total alkalinity = {alkalinity_eq * MG_CACO3_PER_EQ:.0f} mg/L at pH {ph:.2f}: cyanurate and borate alone hold "
            f"{(alkalinity_eq - carbonate) * MG_CACO3_PER_EQ:.0f} mg/L; accepted is at least that, so test alkalinity and "
            "stabiliser again"
        )
    return carbonate / carbonate_share(h, k)


def _charge(r1: float, r2: float) -> tuple[float, float]:
    """Mean charge of an acid with two protons, and its variance, from the abundances of its ions relative to the acid."""
    d = 1.0 + r1 + r2
    mean = (r1 + 2.0 * r2) / d
    return mean, (r1 + 4.0 * r2) / d - mean * mean


def solve_ph(alkalinity_eq: float, dic: float, other: Buffers, k: Constants, guess: float = 7.5) -> float:
    """pH of a closed water from its alkalinity [eq/L] and inorganic carbon [mol/L]. ValueError outside pH 2-12.5.

    Newton's step with the buffer intensity, kept inside a bracket that every evaluation narrows. `guess` is the
    last pH where there is one.
    """
    if other.chlorine > 0.0:
        return _solve_with_chlorine(alkalinity_eq, dic, other, k, guess)
    low, high = LOWEST_PH, HIGHEST_PH
    ph = guess
    for _ in range(100):
        h = math.pow(10.0, -ph)
        r1 = k.k1 / h
        carbon, carbon_slope = _charge(r1, r1 * k.k2 / h)
        r6 = k.k6 / h
        cyan, cyan_slope = _charge(r6, r6 * k.k10 / h)
        b = k.kb / (k.kb + h)
        oh, proton = k.kw / h, h / k.gamma1
        f = dic * carbon + other.ring * cyan + other.boron * b + oh - proton - alkalinity_eq
        slope = dic * carbon_slope + other.ring * cyan_slope + other.boron * b * (1.0 - b) + oh + proton
        if f > 0.0:
            high = ph
        else:
            low = ph
        new = ph - f / (slope * _LN10)
        if not low < new < high:
            new = 0.5 * (low + high)
        if abs(new - ph) < 1e-9:
            break
        ph = new
    return _inside(new)


def _inside(ph: float) -> float:
    if not LOWEST_PH + 1e-6 < ph < HIGHEST_PH - 1e-6:
        raise ValueError(f"pH = {ph:.1f} computed: accepted is a water between 2 and 12.5; check alkalinity and doses")
    return ph


def _solve_with_chlorine(alkalinity_eq: float, dic: float, other: Buffers, k: Constants, guess: float) -> float:
    """As `solve_ph`, by false position (Illinois), since the slope of ring and chlorine together has no short form."""
    low, high = guess, guess
    f_low = f_high = alkalinity_eq_l(guess, dic, other, k) - alkalinity_eq
    width = 0.1
    while f_low > 0.0 and low > LOWEST_PH:
        low = max(LOWEST_PH, low - width)
        f_low, width = alkalinity_eq_l(low, dic, other, k) - alkalinity_eq, 3.0 * width
    while f_high < 0.0 and high < HIGHEST_PH:
        high = min(HIGHEST_PH, high + width)
        f_high, width = alkalinity_eq_l(high, dic, other, k) - alkalinity_eq, 3.0 * width
    if f_low > 0.0 or f_high < 0.0:
        return _inside(low if f_low > 0.0 else high)
    side = 0
    for _ in range(200):
        if high - low < 1e-9 or f_high == f_low:
            break
        ph = low + (high - low) * -f_low / (f_high - f_low)
        f = alkalinity_eq_l(ph, dic, other, k) - alkalinity_eq
        if f == 0.0 or abs(f) < 1e-14:
            return _inside(ph)
        if f > 0.0:
            high, f_high = ph, f
            f_low, side = (0.5 * f_low if side > 0 else f_low), 1
        else:
            low, f_low = ph, f
            f_high, side = (0.5 * f_high if side < 0 else f_high), -1
    return _inside(0.5 * (low + high))
