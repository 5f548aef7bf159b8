"""Chlorine on the cyanurate ring: the constants, and the solver of the whole equilibrium.

Source of the constants: O'Brien, Morris & Butler (1974), in Rubin (ed.), Chemistry of Water Supply, Treatment, and
Distribution, pp. 333-358, as used in the free-chlorine and cyanuric-acid simulator described in EPA/600/S-17/165
(2017). They hold at 25 C. Away from it only K6 is well known (see `pk6`); the constant that matters most, of HClCy-
+ H2O = H2Cy- + HOCl, is not, so the ring is computed with the 25 C constants at every temperature and
`chlorine.temperature_doubt` says how wrong that may be.

Authors number the reactions differently: compare reactions, never labels. All constants are of hydrolysis (HOCl is
set free) or of acid dissociation; a larger pK holds tighter. Cy stands for C3N3O3.
"""

import math
from dataclasses import dataclass

CL2_G_MOL = 70.906
CYANURIC_ACID_G_MOL = 129.074
R_KJ_MOL_K = 8.314462618e-3

PK_HOCL = 7.54  # HOCl = H+ + OCl-, the value that belongs to this set; Morris (1966) gives 7.5366
PK_CL3CY = 1.8  # Cl3Cy + H2O = HCl2Cy + HOCl
PK_HCL2CY = 3.75  # HCl2Cy = H+ + Cl2Cy-
PK_H2CLCY = 5.33  # H2ClCy = H+ + HClCy-
PK_H3CY = 6.88  # H3Cy = H+ + H2Cy-
PK_CL2CY = 4.51  # Cl2Cy- + H2O = HClCy- + HOCl
PK_HCLCY = 10.12  # HClCy- = H+ + ClCy2-
PK_H2CY = 11.40  # H2Cy- = H+ + HCy2-
PK_CLCY = 6.90  # ClCy2- + H2O = HCy2- + HOCl
PK_HCY = 13.5  # HCy2- = H+ + Cy3-

# Steps that follow from those above; the second way to them is a test of the table.
PK_HCLCY_HYDROLYSIS = PK_HCLCY + PK_CLCY - PK_H2CY  # HClCy- + H2O = H2Cy- + HOCl, 5.62

K_HOCL: float = 10.0**-PK_HOCL
_B_H2CY = 10.0**PK_H2CY
_B_HCY = 10.0**-PK_HCY
_B_H3CY = 10.0**PK_H3CY
_B_HCLCY = 10.0**PK_HCLCY_HYDROLYSIS
_B_CLCY = 10.0**-PK_HCLCY
_B_H2CLCY = 10.0**PK_H2CLCY
_B_CL2CY = 10.0**PK_CL2CY
_B_HCL2CY = 10.0**PK_HCL2CY
_B_CL3CY = 10.0**PK_CL3CY
_K_H2CY = 10.0**-PK_H2CY


@dataclass(frozen=True, slots=True)
class Ring:
    """Abundance of the ring's forms relative to H2Cy-, at one pH; powers of [HOCl] (mol/L) not yet applied.

    `none` is the form without chlorine, `one` to `three` those with one to three, summed over their protons.
    `free` is (HOCl + OCl-) / HOCl.
    """

    free: float
    none: float
    one: float
    two: float
    three: float


def ring_at(h: float, k_hocl: float = K_HOCL, g1: float = 1.0, g2: float = 1.0, g3: float = 1.0) -> Ring:
    """The ring's forms at H+ activity `h`, with activity coefficients of ions of charge 1, 2 and 3.

    Neutral species keep a coefficient of 1. Taking the constants as those of zero ionic strength is an assumption:
    the ionic strength of the source is not confirmed.
    """
    # Abundances are activities relative to the activity of H2Cy-, divided by each form's own coefficient.
    none = h * _B_H3CY + 1.0 / g1 + _K_H2CY / h * (1.0 / g2 + _B_HCY / h / g3)
    hclcy = _B_HCLCY
    one = hclcy * (1.0 / g1 + h * _B_H2CLCY + _B_CLCY / h / g2)
    cl2cy = hclcy * _B_CL2CY
    hcl2cy = cl2cy * h * _B_HCL2CY
    two = cl2cy / g1 + hcl2cy
    three = hcl2cy * _B_CL3CY
    return Ring(free=1.0 + k_hocl / h / g1, none=none, one=one, two=two, three=three)


def ring_estimate_at(h: float, k_hocl: float, temp_c: float, ring_enthalpy_kj_mol: float) -> Ring:
    """The ring away from 25 C with what is known and one guess; activity coefficients are 1.

    Known: K6 and the hydrolysis of Cl2Cy- (Wahman 2018 and 2019, abstracts: slopes of 1743 and 2028 K). Guessed:
    the enthalpy of HClCy- + H2O = H2Cy- + HOCl. All other acid constants stay at 25 C.
    """
    ring = ring_at(h, k_hocl)
    inverse = 1.0 / (temp_c + 273.15) - 1.0 / 298.15
    held = math.exp(ring_enthalpy_kj_mol / R_KJ_MOL_K * inverse)
    held_two = held * math.pow(10.0, 2028.0 * inverse)
    none = ring.none + h * (math.pow(10.0, pk6(temp_c)) - _B_H3CY)
    return Ring(ring.free, none, ring.one * held, ring.two * held_two, ring.three * held_two)


def chlorine_mol_l(hocl_mol_l: float, ring_mol_l: float, ring: Ring) -> float:
    """Free chlorine as a DPD test reads it, in closed form from [HOCl]. [mol/L]"""
    x = hocl_mol_l
    one, two, three = ring.one * x, ring.two * x * x, ring.three * x * x * x
    return x * ring.free + ring_mol_l * (one + 2.0 * two + 3.0 * three) / (ring.none + one + two + three)


def charge_eq_l(
    h: float, chlorine_total: float, ring_mol_l: float, k_hocl: float, k6: float, k10: float, g1: float, g2: float
) -> float:
    """Equivalents that free chlorine and ring hold together at H+ activity `h`. [eq/L]

    HOCl, H3Cy and the ring's neutral forms with chlorine count as none; so OCl-, H2Cy-, HClCy- and Cl2Cy- count as one, HCy2- and
    ClCy2- as two. `k_hocl`, `k6`, `k10` with H+ as activity and the rest as concentrations, as in `buffering.Constants`.
    """
    # Relative to the activity of H2Cy-, as in `ring_at`; Cy3- is nothing in a pool.
    h2cy = 1.0 / g1
    hcy = k10 / (h * g1)
    none = h / (k6 * g1) + h2cy + hcy
    hclcy, clcy = _B_HCLCY / g1, _B_HCLCY * _B_CLCY / (h * g2)
    one = hclcy + clcy + _B_HCLCY * h * _B_H2CLCY
    cl2cy = _B_HCLCY * _B_CL2CY
    hcl2cy = cl2cy * h * _B_HCL2CY
    ring = Ring(1.0 + k_hocl / h, none, one, cl2cy / g1 + hcl2cy, hcl2cy * _B_CL3CY)
    x = solve_hocl_mol_l(chlorine_total, ring_mol_l, ring)
    charged = h2cy + 2.0 * hcy + x * (hclcy + 2.0 * clcy + x * cl2cy / g1)
    forms = none + x * (one + x * (ring.two + x * ring.three))
    held: float = x * k_hocl / h + ring_mol_l * charged / forms
    return held


TRACE_MOL_L = 1e-60
"""Below this the balance is a straight line to the last digit."""


def solve_hocl_mol_l(chlorine_mol_l_total: float, ring_mol_l: float, ring: Ring) -> float:
    """[HOCl] in mol/L of a given total chlorine and ring.

    The balance rises strictly with [HOCl], so one root lies in [0, total / free]. Newton's step is kept inside the
    bracket, which every evaluation narrows; a step that leaves it is replaced by a halving. Starts at the exact
    root of the water that had only the one-chlorine forms, which is close for every stabilised pool.
    """
    total = chlorine_mol_l_total
    if total <= 0.0:
        return 0.0
    free = ring.free
    high = total / free
    if ring_mol_l <= 0.0:
        return high
    low = 0.0
    c1 = ring.one / ring.none
    if total < TRACE_MOL_L:  # squares of it underflow; the forms with more chlorine are nothing beside the first
        return total / (free + ring_mol_l * c1)
    c2 = ring.two / ring.none
    c3 = ring.three / ring.none
    # free c1 x2 + (free + ring c1 - total c1) x - total = 0, in the form that loses no digits.
    b = free + (ring_mol_l - total) * c1
    root = math.sqrt(b * b + 4.0 * free * c1 * total)
    x = 2.0 * total / (b + root) if b > 0.0 else (root - b) / (2.0 * free * c1)
    for _ in range(200):
        t1 = c1 * x
        t2 = c2 * x * x
        t3 = c3 * x * x * x
        d = 1.0 + t1 + t2 + t3
        n1 = t1 + 2.0 * t2 + 3.0 * t3
        mean = n1 / d
        f = free * x + ring_mol_l * mean - total
        if f > 0.0:
            high = x
        else:
            low = x
        slope = free + ring_mol_l * ((t1 + 4.0 * t2 + 9.0 * t3) / d - mean * mean) / x
        step = f / slope
        new = x - step
        if not low <= new <= high:
            new = 0.5 * (low + high)
        if abs(new - x) <= 1e-12 * x:
            return new
        x = new
    return x


def pk6(temp_c: float) -> float:
    """pK of H3Cy = H+ + H2Cy-, shifted from O'Brien's 6.88 at 25 C by the published enthalpy.

    Source: Wahman (2018), Environ. Sci.: Water Res. Technol. 4:1522, pK = 1743/T + 1.12 for 5-35 C. That line gives
    6.966 at 25 C; only its slope is used here, so that one anchor holds for all of the ring.
    """
    return PK_H3CY + 1743.0 * (1.0 / (temp_c + 273.15) - 1.0 / 298.15)
