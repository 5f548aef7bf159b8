"""pH with the probe's offset, and alkalinity: two light filters beside the chlorine."""

from dosectl.chemistry import carbonate
from dosectl.core.site import Site

Ph = tuple[float, float, float, float, float]
DRIFT_PER_SQRT_DAY = 0.12  # of the water's pH; common practice: salt pools rise by some 0.1 a day
OFFSET_PER_SQRT_DAY = 0.02  # of the probe's offset; common practice: 0.1-0.2 a month at worst
READING_STAYS_S = 1800.0
SLIP_PH = 1.2  # a test further off than this and than 4 standard deviations is a slip of the pen


def drift(ph: Ph, days: float) -> Ph:
    """Doubt grows with time; the offset is bounded by what a probe can be off at all."""
    value, offset, var, both, offset_var = ph
    var, offset_var = var + DRIFT_PER_SQRT_DAY**2 * days, offset_var + OFFSET_PER_SQRT_DAY**2 * days
    return (value, offset, min(1.0, var), both, min(0.25, offset_var))


LEAST_ALKALINITY_MG_L = 10.0  # less leaves a pH that nothing holds; own judgement
MOST_ALKALINITY_MG_L = 1500.0  # a test and additions may say more; no pool has it, and the solver would refuse it


def after_acid(site: Site, ph: Ph, acid_mg_l: float, alkalinity_mg_l: float, cya_mg_l: float, temp_c: float) -> Ph:
    """pH after fed acid [mg/L as CaCO3 removed]; half of the expected move is added as doubt (strength, volume, mixing)."""
    pool = site.pool
    value = min(9.5, max(5.5, ph[0]))
    # Stabiliser alone holds a third of its own figure: less alkalinity than that can't be, and the solver would refuse it.
    alkalinity = min(MOST_ALKALINITY_MG_L, max(alkalinity_mg_l, 15.0 + 0.45 * cya_mg_l))
    new = carbonate.ph_after_acid(
        alkalinity,
        cya_mg_l,
        value,
        min(acid_mg_l, 0.5 * alkalinity),
        borate_b_mg_l=pool.borate_b_mg_l,
        temp_c=min(45.0, max(0.0, temp_c)),
        salt_g_l=pool.salt_g_l,
    )
    step = new - value
    return (ph[0] + step, ph[1], ph[2] + 0.25 * step * step, ph[3], ph[4])


def use_probe(ph: Ph, reading: float, sigma: float, span_s: float) -> Ph:
    """A usable probe reading that stands for `span_s` seconds. It moves the pH and never the offset.

    Only a test by hand can tell a wrong probe from sour water: fed acid that outgassing makes up for looks the same in the
    reading as a probe that drifts upwards, and was taken for one.
    """
    noise = max(0.02, sigma) ** 2 * max(1.0, READING_STAYS_S / span_s)
    return _correct(ph, 1.0, reading - ph[0] - ph[1], noise, learns_offset=False)


def use_test(ph: Ph, value: float, sigma: float, age_days: float) -> tuple[Ph, bool]:
    """A test by hand, wider by its age. False where it can't be of this water."""
    noise = max(0.03, sigma) ** 2 + DRIFT_PER_SQRT_DAY**2 * age_days
    innovation = value - ph[0]
    if not 5.5 <= value <= 9.5 or (abs(innovation) > SLIP_PH and innovation**2 > 16.0 * (noise + ph[2])):
        return ph, False
    return _correct(ph, 0.0, innovation, noise), True


def use_alkalinity(
    mean_mg_l: float, var: float, value: float, sigma: float, age_days: float, older: bool = False
) -> tuple[float, float, bool]:
    """A test of total alkalinity: new mean and variance, and whether it was believed in full.

    One that both doubts do not explain makes the model give way: somebody put in bicarbonate, or fresh water. One very far off is
    taken with tenfold sigma: it may be a slip. One that is `older` than what the model knows gives way itself: typed after 70 of
    now, 140 of a fortnight ago was believed at 133.
    """
    noise = max(sigma, 3.0) ** 2 + 4.0 * age_days
    innovation = value - mean_mg_l
    believed = innovation**2 <= 16.0 * (noise + var + 400.0)
    unexplained = max(0.0, innovation**2 - noise - var)
    if believed and older:
        noise += unexplained
    elif believed:
        var += unexplained
    else:
        noise *= 100.0
    gain = var / (var + noise)
    return max(LEAST_ALKALINITY_MG_L, mean_mg_l + gain * innovation), var * (1.0 - gain), believed


def _correct(ph: Ph, with_offset: float, innovation: float, noise: float, learns_offset: bool = True) -> Ph:
    value, offset, var, both, offset_var = ph
    a = var + with_offset * both
    b = both + with_offset * offset_var
    s = a + with_offset * b + noise
    ka, kb = a / s, (b / s if learns_offset else 0.0)
    return (
        value + ka * innovation,
        offset + kb * innovation,
        max(1e-5, var - ka * a),
        both - ka * b,
        max(1e-5, offset_var - kb * b),
    )
