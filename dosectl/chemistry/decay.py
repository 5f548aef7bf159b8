"""What takes chlorine away, in the pool and in the container."""

import math

from dosectl.chemistry import chlorine, ranges
from dosectl.chemistry.cyanurate import CL2_G_MOL
from dosectl.chemistry.ranges import Range

# First-order photolysis at the surface in clear summer noon sun at 47 N. Source: Nowell & Hoigne (1992), Water Res.
# 26:593.
K_HOCL_PER_S = 2.0e-4
K_OCL_PER_S = 1.2e-3
# No published rate of the chlorinated ring in sunlight was found: a site constant, 0 until it is fitted.
K_RING_PER_S = 0.0
# The sun of that measurement as `sunlight.clear_sky_uv`: 47 N at midsummer noon stands at 66 deg, sin^1.2 = 0.90.
UV_OF_MEASUREMENT = 0.90
DEMAND_FACTOR_PER_10_C = 2.0  # common practice for biological and organic demand; no figure published for pools
BATHER_DEMAND_G = 5.5  # chlorine per bather, field median. Source: Bradford (2014), IJARE, abstract

ATTENUATION = Range("light attenuation", 0.0, 20.0, "1/m")
UV_SHARE = Range("sunlight", 0.0, 1.5, "", "give a share of overhead clear sun")
AGE = Range("age", 0.0, 3650.0, "days")


def depth_factor(depth_m: float, attenuation_per_m: float = 0.5) -> float:
    """Mean light over the depth as a share of that at the surface: (1 - exp(-K z)) / (K z). [0..1]

    K near 330 nm of clear pool water is some 0.2-1 per m, an estimate.
    """
    kz = ATTENUATION.check(attenuation_per_m) * ranges.DEPTH.check(depth_m)
    return -math.expm1(-kz) / kz if kz > 1e-9 else 1.0


def photolysis_rate_mg_l_s(
    hocl_mg_l: float,
    ocl_mg_l: float,
    bound_mg_l: float,
    uv: float,
    *,
    depth_share: float = 1.0,
    k_ring_per_s: float = K_RING_PER_S,
) -> float:
    """Chlorine destroyed by sunlight. [mg/L s]. `uv` as `sunlight.clear_sky_uv` times cloud and shade."""
    UV_SHARE.check(uv)
    for name, level in (("hypochlorous acid", hocl_mg_l), ("hypochlorite", ocl_mg_l), ("bound chlorine", bound_mg_l)):
        Range(name, 0.0, 200.0, "mg/L").check(level)
    Range("light in the depth", 0.0, 1.0, "", "give a share").check(depth_share)
    Range("photolysis of the ring", 0.0, 1.0, "1/s").check(k_ring_per_s)
    surface = K_HOCL_PER_S * hocl_mg_l + K_OCL_PER_S * ocl_mg_l + k_ring_per_s * bound_mg_l
    return surface * uv / UV_OF_MEASUREMENT * depth_share


def surface_half_life_min(ph: float) -> float:
    """Half-life of unstabilised free chlorine at the surface in the sun of the measurement. [min]"""
    share = chlorine.hocl_mg_l(1.0, 0.0, ph)
    return math.log(2.0) / (K_HOCL_PER_S * share + K_OCL_PER_S * (1.0 - share)) / 60.0


def demand_temperature_factor(temp_c: float, reference_c: float = 25.0, per_10_c: float = DEMAND_FACTOR_PER_10_C) -> float:
    """How much faster oxidisable demand eats chlorine than at the reference temperature."""
    return float(per_10_c ** ((ranges.TEMPERATURE.check(temp_c) - ranges.TEMPERATURE.check(reference_c)) / 10.0))


def bather_demand_g(bathers: float, grams_each: float = BATHER_DEMAND_G) -> float:
    """Chlorine that bathers will use. [g as Cl2]. 2-10 g each are quoted; 5.5 is the field median."""
    Range("bathers", 0.0, 1000.0, "").check(bathers)
    return bathers * Range("demand of a bather", 0.0, 30.0, "g").check(grams_each)


def hypochlorite_rate_l_mol_s(strength_g_l: float, temp_c: float) -> float:
    """Second-order rate constant of stored sodium hypochlorite, uncatalysed, pH 12-13. [L/mol s]

    Source: form of Gordon, Adam and Bubnis as reprinted in the AWWA hypochlorite study of 2009, from memory; its
    temperature factor agrees with Lister (1956), 24.8 kcal/mol. Metals, sunlight and pH under 11 are much faster.
    """
    c = ranges.STRENGTH_G_L.check(strength_g_l) / CL2_G_MOL
    t = Range("storage temperature", -10.0, 60.0, "deg C").check(temp_c) + 273.15
    ionic = 2.0 * c + 0.1
    return float(10.0 ** (0.149 * ionic + math.log10(2.083e10 * t * math.exp(-1.018e5 / (8.314 * t)) * math.exp(-56.5 / 8.314))))


def hypochlorite_half_life_days(strength_g_l: float, temp_c: float) -> float:
    """1 / (k C0): time to half strength if k stayed that of the fresh solution. [days]. 100 g/L, 25 C: 297."""
    if strength_g_l <= 0.0:
        raise ValueError(f"strength = {strength_g_l!r} g/L: accepted is more than 0; an empty solution has no half-life")
    return CL2_G_MOL / (hypochlorite_rate_l_mol_s(strength_g_l, temp_c) * strength_g_l) / 86400.0


def hypochlorite_strength_g_l(initial_g_l: float, age_days: float, temp_c: float) -> float:
    """Strength of stored hypochlorite today. [g/L available chlorine as Cl2]

    dC/dt = -k C2 with k of the solution as delivered, so C = C0 / (1 + t / half-life). The ionic strength hardly
    falls as it ages (chloride and chlorate replace hypochlorite), which is why k may stay. Expect a factor of 1.5
    either way.
    """
    AGE.check(age_days)
    if ranges.STRENGTH_G_L.check(initial_g_l) == 0.0:
        return 0.0
    return initial_g_l / (1.0 + age_days / hypochlorite_half_life_days(initial_g_l, temp_c))
