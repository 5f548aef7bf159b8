"""What the redox electrode says of the chlorine.

Reading = offset + slope log10(HOCl / 0.03) - half the Nernst slope x (pH - 7.5). Offset and slope are states: only the form is
theory. One reading a minute is not sixty readings an hour: an electrode's errors stay, so each counts by the time it stands for.
"""

from math import exp, log, log10

from dosectl.chemistry.cyanurate import CL2_G_MOL, CYANURIC_ACID_G_MOL, chlorine_mol_l, ring_at
from dosectl.chemistry.electrodes import HOCL_FLOOR_MG_L
from dosectl.core.estimate.chlorine import CYA_SHIFT_MG_L, blooming, cya_of, hocl_of
from dosectl.core.estimate.filters import Rows, correct
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import CHLORINE, DEMAND, DRIFT, EFFECT, OFFSET, SLOPE, STABILISER, SUN

REFERENCE_HOCL_MG_L = 0.03
FOLLOWS_HOCL_MG_L = 0.003  # with less the potential is a mix of all that is in the water; own judgement
PH_SLOPE_MV = 29.6  # half of Nernst's at 25 C
JUMP_MV = 7.0  # more than lately; a doubling of chlorine is 9 in theory. At 15 a fouled electrode starved pools for days
JUMP_S = 600.0
LATELY_S = 8 * 3600.0
BESIDES_WATER = (SUN, OFFSET, STABILISER, SLOPE, DRIFT, EFFECT)
# An electrode's offset and the stabiliser move a reading alike: what wanders is the electrode, so tests alone say the stabiliser.
BY_TESTS_ALONE = (STABILISER,)
GATE = 4.0  # standard deviations
DOUBT_S = 6 * 3600.0  # a misfit that lasts so long is a changed electrode, not a bad hour
_MG_MOL = 1000.0 * CL2_G_MOL
_CYA_MG_MOL = 1000.0 * CYANURIC_ACID_G_MOL
_LN10 = 2.302585092994046


def use_orp(
    mean: list[float],
    p: Rows,
    params: EstimateParams,
    orp_mv: float,
    ph: float,
    ph_sigma: float,
    span_s: float,
    misread_mv: float,
    dead_s: float = 0.0,
) -> tuple[bool, float, float]:
    """One reading that stands for `span_s` seconds, in place. Returns whether it was believed (not where it lies too far
    off), how far off it lay, in standard deviations, and the mean of that in mV. `misread_mv`: that mean before;
    `dead_s`: how long the water had stood dead."""
    free = exp(mean[CHLORINE])
    cya = cya_of(mean)
    ring = ring_at(10.0**-ph)
    hocl = max(HOCL_FLOOR_MG_L, hocl_of(free, cya, ring))
    # Slopes of the implicit balance FC(HOCl, CYA) at the root, cheaper than two more solutions.
    x, cy = hocl / _MG_MOL, cya / _CYA_MG_MOL
    balance = chlorine_mol_l(x, cy, ring)
    by_hocl = (chlorine_mol_l(x * 1.001, cy, ring) - balance) / (0.001 * x)
    by_cya = chlorine_mol_l(x, 1.0, ring) - x * ring.free
    decades = log10(hocl / REFERENCE_HOCL_MG_L)
    slope = mean[SLOPE]
    per_ln = slope / (_LN10 * x * by_hocl)
    h = (
        (CHLORINE, per_ln * balance),
        (OFFSET, 1.0),
        (STABILISER, -per_ln * by_cya * (cya + CYA_SHIFT_MG_L) / _CYA_MG_MOL),
        (SLOPE, decades),
    )
    innovation = orp_mv - (mean[OFFSET] + slope * decades - PH_SLOPE_MV * (ph - 7.5))
    one = params.orp_sigma_mv**2 + (PH_SLOPE_MV * ph_sigma) ** 2
    if hocl < FOLLOWS_HOCL_MG_L:
        # It says "next to none", not how little: taken at its word, weeks of dead water taught a wrong offset.
        one += (slope * log10(FOLLOWS_HOCL_MG_L / hocl)) ** 2
    spread = one + sum([a * b * p[i][j] for i, a in h for j, b in h])
    eaten = blooming(mean, dead_s)
    jump = innovation - misread_mv - JUMP_MV
    if jump > 0.0 and not eaten:
        # Chlorine rises by feeds, which are counted, and by hands, which are slow to mix in; electrodes jump. The electrode is
        # doubted by as much as it jumped, within minutes, before the water is believed to have gained.
        widened = jump**2 * span_s / (span_s + JUMP_S)
        p[OFFSET][OFFSET] += widened
        spread += widened
    lately_mv = misread_mv + span_s / (span_s + LATELY_S) * (innovation - misread_mv)
    off = innovation / spread**0.5
    if abs(off) > GATE:
        return False, off, lately_mv
    # In water that eats what is fed nobody can foretell the chlorine: what a reading is off by is the water's doing.
    kept = BESIDES_WATER if eaten else BY_TESTS_ALONE
    correct(mean, p, h, innovation, one * max(1.0, params.orp_error_s / span_s), kept)
    return True, off, lately_mv


def forget_what_it_taught(mean: list[float], p: Rows, params: EstimateParams) -> None:
    """A test found chlorine where the electrode showed none: it starts over, and so does the demand that it taught. In place."""
    forget_electrode(mean, p, params)
    for j in range(len(p)):
        p[DEMAND][j] = p[j][DEMAND] = 0.0
    p[DEMAND][DEMAND] = params.demand_log_sigma**2
    mean[DEMAND] = log(params.demand_mg_l_day)


def forget_electrode(mean: list[float], p: Rows, params: EstimateParams) -> None:
    """The electrode is not the one we knew (new, cleaned, fouled): its offset and slope start over, in place."""
    new = (
        (OFFSET, params.orp_reference_sigma_mv),
        (SLOPE, params.orp_slope_sigma_mv),
        (DRIFT, params.orp_drift_sigma_mv_day),
    )
    for state, sigma in new:
        for j in range(len(p)):
            p[state][j] = p[j][state] = 0.0
        p[state][state] = sigma * sigma
    mean[SLOPE], mean[DRIFT] = params.orp_slope_mv, 0.0
