"""Free chlorine and its forms: what a DPD test reads, and how much of it disinfects.

"Free chlorine" here is HOCl + OCl- + chlorine on the cyanurate ring, as DPD reads it. Some authors call only the
first two free; that is a difference of names, not of chemistry.
"""

import math
from dataclasses import dataclass

from dosectl.chemistry import cyanurate, ranges
from dosectl.chemistry.activity import davies_gamma
from dosectl.chemistry.cyanurate import CL2_G_MOL, CYANURIC_ACID_G_MOL, K_HOCL

_MG_MOL = 1000.0 * CL2_G_MOL
_CYA_MG_MOL = 1000.0 * CYANURIC_ACID_G_MOL


@dataclass(frozen=True, slots=True)
class ChlorineSpecies:
    """Where the free chlorine sits. All in mg/L as Cl2 (70.906 g/mol); the parts sum to `free_chlorine_mg_l`."""

    free_chlorine_mg_l: float
    hocl_mg_l: float
    ocl_mg_l: float
    bound_mg_l: float  # on the ring; released as HOCl is used, so it is a store and reacts in the end
    bound_one_mg_l: float  # on rings that carry one chlorine (HClCy- and its protonation forms)
    bound_two_mg_l: float
    bound_three_mg_l: float
    temperature_known: bool  # False: ring constants of 25 C were used at another temperature


def hocl_pka(temp_c: float) -> float:
    """pKa of HOCl at zero ionic strength: 3000.00/T - 10.0686 + 0.0253 T.

    Source: Morris (1966), J. Phys. Chem. 70:3798, from memory, commonly cited. 25 C: 7.5366.
    """
    t = ranges.TEMPERATURE.check(temp_c) + 273.15
    return 3000.0 / t - 10.0686 + 0.0253 * t


def hocl_fraction(ph: float, temp_c: float = 25.0) -> float:
    """HOCl / (HOCl + OCl-) in water without cyanurate, at zero ionic strength. Source: as `hocl_pka`."""
    return 1.0 / (1.0 + math.pow(10.0, ranges.PH.check(ph) - hocl_pka(temp_c)))


def _k_hocl(temp_c: float) -> float:
    """Acid constant of HOCl: that of the ring's set at 25 C, moved by Morris's slope."""
    if temp_c == 25.0:
        return K_HOCL
    return math.pow(10.0, hocl_pka(25.0) - hocl_pka(temp_c) - cyanurate.PK_HOCL)


def speciate(
    free_chlorine_mg_l: float, cya_mg_l: float, ph: float, *, temp_c: float = 25.0, ionic_strength: float | None = None
) -> ChlorineSpecies:
    """All forms of the free chlorine.

    The split of HOCl and OCl- follows the temperature (Morris's shift from 25 C); the ring keeps its 25 C constants
    at every temperature, because the others are not published: `temperature_known` then is False, and
    `temperature_doubt` tells the size. `ionic_strength` None takes the constants as concentration
    constants, the convention of the source and of published tables; a number applies Davies coefficients.

    Parameters
    ----------
    free_chlorine_mg_l : As a DPD test reads it. [mg/L as Cl2]
    cya_mg_l : Cyanuric acid. [mg/L]
    ph : -log10 of the activity of H+.
    temp_c : Water temperature. [deg C]
    ionic_strength : [mol/L] or None; see `activity.ionic_strength_from_salt`.
    Raises : ValueError when a value is outside its range; it names the quantity and the range.
    Source : see `cyanurate`. Check: 3 mg/L, CYA 50, pH 7.5 give 0.0246 mg/L HOCl.
    """
    free = ranges.FREE_CHLORINE.check(free_chlorine_mg_l)
    cya = ranges.CYANURIC_ACID.check(cya_mg_l)
    h = 10.0 ** -ranges.PH.check(ph)
    k = _k_hocl(temp_c)
    if ionic_strength is None:
        g1 = g2 = g3 = 1.0
    else:
        g1, g2, g3 = (davies_gamma(z, ranges.IONIC_STRENGTH.check(ionic_strength)) for z in (1, 2, 3))
    ring = cyanurate.ring_at(h, k, g1, g2, g3)
    cy = cya / _CYA_MG_MOL
    x = cyanurate.solve_hocl_mol_l(free / _MG_MOL, cy, ring)
    one, two, three = ring.one * x, ring.two * x * x, ring.three * x * x * x
    scale = _MG_MOL * cy / (ring.none + one + two + three)
    b1, b2, b3 = scale * one, 2.0 * scale * two, 3.0 * scale * three
    return ChlorineSpecies(
        free_chlorine_mg_l=free,
        hocl_mg_l=_MG_MOL * x,
        ocl_mg_l=_MG_MOL * x * (ring.free - 1.0),
        bound_mg_l=b1 + b2 + b3,
        bound_one_mg_l=b1,
        bound_two_mg_l=b2,
        bound_three_mg_l=b3,
        temperature_known=cya == 0.0 or abs(temp_c - 25.0) <= 2.0,
    )


def hocl_mg_l(free_chlorine_mg_l: float, cya_mg_l: float, ph: float) -> float:
    """Hypochlorous acid at 25 C with concentration constants: the number that targets and limits are written in.

    The quick way to `speciate(...).hocl_mg_l`. [mg/L as Cl2]. Raises ValueError outside the ranges of `ranges`.
    """
    # The checks are written out: this is called some ten thousand times a second. The slow path names the culprit.
    try:
        accepted = 0.0 <= free_chlorine_mg_l <= 200.0 and 0.0 <= cya_mg_l <= 1000.0 and 0.0 <= ph <= 14.0
    except TypeError:
        accepted = False
    if not accepted:
        ranges.FREE_CHLORINE.check(free_chlorine_mg_l)
        ranges.CYANURIC_ACID.check(cya_mg_l)
        ranges.PH.check(ph)
    ring = cyanurate.ring_at(10.0**-ph)
    return _MG_MOL * cyanurate.solve_hocl_mol_l(free_chlorine_mg_l / _MG_MOL, cya_mg_l / _CYA_MG_MOL, ring)


def free_chlorine_for_hocl(hocl_mg_l: float, cya_mg_l: float, ph: float) -> float:
    """Free chlorine that gives a wanted HOCl, closed form, 25 C. [mg/L as Cl2]. The inverse of `hocl_mg_l`."""
    x = ranges.HOCL.check(hocl_mg_l) / _MG_MOL
    cy = ranges.CYANURIC_ACID.check(cya_mg_l) / _CYA_MG_MOL
    ring = cyanurate.ring_at(10.0 ** -ranges.PH.check(ph))
    return _MG_MOL * cyanurate.chlorine_mol_l(x, cy, ring)


def upper_free_chlorine_limit_mg_l(cya_mg_l: float) -> float:
    """dosectl's own upper limit: min(10, max(5, 0.4 x CYA)). [mg/L]

    Common practice behind the 0.4: HOCl then stays below that of an unstabilised pool at 1 mg/L. 10 is the ceiling
    of widely used health codes. It is a line to warn at, never a blessing of what lies below.
    """
    return min(10.0, max(5.0, 0.4 * ranges.CYANURIC_ACID.check(cya_mg_l)))


def log10_hocl_slope(free_chlorine_mg_l: float, cya_mg_l: float, ph: float) -> float:
    """d log10(HOCl) / d log10(free chlorine): what an ORP electrode sees of a change in free chlorine. 1 without CYA."""
    x = hocl_mg_l(free_chlorine_mg_l, cya_mg_l, ph)
    if x <= 0.0:
        return 1.0
    step = 1e-4
    up = free_chlorine_for_hocl(x * (1.0 + step), cya_mg_l, ph)
    down = free_chlorine_for_hocl(x * (1.0 - step), cya_mg_l, ph)
    return (math.log(1.0 + step) - math.log(1.0 - step)) / (math.log(up) - math.log(down))


def hocl_estimate_at_temperature_mg_l(
    free_chlorine_mg_l: float, cya_mg_l: float, ph: float, temp_c: float, *, ring_enthalpy_kj_mol: float = 39.0
) -> float:
    """HOCl at a temperature, were the ring's main constant to move with this enthalpy. [mg/L]. An estimate, never a check.

    The enthalpy of HClCy- + H2O = H2Cy- + HOCl is published but could not be read; 39 kJ/mol is that of its
    neighbour.
    """
    enthalpy = ranges.Range("ring enthalpy", 0.0, 100.0, "kJ/mol").check(ring_enthalpy_kj_mol)
    h = math.pow(10.0, -ranges.PH.check(ph))
    ring = cyanurate.ring_estimate_at(h, _k_hocl(temp_c), ranges.TEMPERATURE.check(temp_c), enthalpy)
    total = ranges.FREE_CHLORINE.check(free_chlorine_mg_l) / _MG_MOL
    return _MG_MOL * cyanurate.solve_hocl_mol_l(total, ranges.CYANURIC_ACID.check(cya_mg_l) / _CYA_MG_MOL, ring)


def temperature_doubt(free_chlorine_mg_l: float, cya_mg_l: float, ph: float, temp_c: float) -> tuple[float, float]:
    """Factors between which true HOCl may lie, against the figure with 25 C ring constants: enthalpies of 30 to 45 kJ/mol.

    About (0.60, 0.73) at 15 C and (1.35, 1.71) at 35 C: larger than the effect of any pH between 7.2 and 7.8.
    """
    known = speciate(free_chlorine_mg_l, cya_mg_l, ph, temp_c=temp_c).hocl_mg_l
    if known <= 0.0:
        return 1.0, 1.0
    factors = [
        hocl_estimate_at_temperature_mg_l(free_chlorine_mg_l, cya_mg_l, ph, temp_c, ring_enthalpy_kj_mol=e) / known
        for e in (30.0, 45.0)
    ]
    return min(factors), max(factors)
