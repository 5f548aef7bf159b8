"""Solutions that electrodes are checked in, against temperature.

Two sets of pH buffers are sold and differ by up to 0.2 pH: the NIST set (4.01, 6.86, 9.18, 10.01) and the technical
set (4.00, 7.00, 10.01). Likewise one redox solution reads differently on different reference electrodes. So both
are named in full, and a bare "pH 7 buffer" is no name.
"""

from collections.abc import Mapping
from enum import StrEnum
from itertools import pairwise
from types import MappingProxyType

from dosectl.chemistry import electrodes, ranges

_TEMPERATURES_C = (0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0)


class Buffer(StrEnum):
    """A pH buffer by what is in it, or by the set it belongs to."""

    PHTHALATE = "phthalate 0.05 mol/kg (NIST, 4.008 at 25 C)"
    PHOSPHATE = "phosphate 1:1, 0.025 mol/kg (NIST, 6.865 at 25 C)"
    PHOSPHATE_BLOOD = "phosphate 1:3.5 (NIST, 7.413 at 25 C)"
    BORAX = "borax 0.01 mol/kg (NIST, 9.180 at 25 C)"
    CARBONATE = "carbonate 0.025 mol/kg (NIST, 10.012 at 25 C)"
    TECHNICAL_4 = "technical 4.00"
    TECHNICAL_7 = "technical 7.00"
    TECHNICAL_10 = "technical 10.01"


# Sources: NBS/NIST standard values, Bates (1962) J. Res. NBS 66A:179, Staples & Bates (1969) 73A:37 for carbonate,
# from memory
# (values at 25 C confirmed); technical set: two-decimal table of an instrument manual.
_BUFFER_PH: dict[Buffer, tuple[float, ...]] = {
    Buffer.PHTHALATE: (4.003, 3.999, 3.998, 3.999, 4.002, 4.008, 4.015, 4.024, 4.035, 4.047, 4.060),
    Buffer.PHOSPHATE: (6.984, 6.951, 6.923, 6.900, 6.881, 6.865, 6.853, 6.844, 6.838, 6.834, 6.833),
    Buffer.PHOSPHATE_BLOOD: (7.534, 7.500, 7.472, 7.448, 7.429, 7.413, 7.400, 7.389, 7.380, 7.373, 7.367),
    Buffer.BORAX: (9.464, 9.395, 9.332, 9.276, 9.225, 9.180, 9.139, 9.102, 9.068, 9.038, 9.011),
    Buffer.CARBONATE: (10.317, 10.245, 10.179, 10.118, 10.062, 10.012, 9.966, 9.925, 9.889, 9.856, 9.828),
    Buffer.TECHNICAL_4: (4.0, 4.0, 4.0, 4.0, 4.0, 4.0, 4.01, 4.02, 4.03, 4.04, 4.06),
    Buffer.TECHNICAL_7: (7.12, 7.09, 7.06, 7.04, 7.02, 7.0, 6.99, 6.99, 6.98, 6.98, 6.97),
    Buffer.TECHNICAL_10: (10.32, 10.25, 10.18, 10.12, 10.06, 10.01, 9.97, 9.93, 9.89, 9.86, 9.83),
}


class Reference(StrEnum):
    """The electrode that a potential is told against."""

    HYDROGEN = "standard hydrogen"
    AG_AGCL_SATURATED = "Ag/AgCl, saturated KCl"
    AG_AGCL_3M = "Ag/AgCl, 3 mol/L KCl"


class RedoxSolution(StrEnum):
    """A redox check solution."""

    LIGHT = "Light (ferrous and ferric sulfate in 1 mol/L sulfuric acid)"  # strong acid: gloves and goggles
    ZOBELL = "ZoBell (ferro- and ferricyanide in 0.1 mol/L KCl)"
    QUINHYDRONE_PH_4 = "quinhydrone in pH 4.01 buffer"
    QUINHYDRONE_PH_686 = "quinhydrone in pH 6.86 buffer"


LIGHT_SHE_25C_MV = 675.0  # Light (1972), Anal. Chem. 44:1038, from memory; no temperature course was found
# Sat. KCl: 199 at 25 C and -1 mV/K, commonly tabulated, from memory; 3 mol/L: table of a field-instrument manual.
_REFERENCE_C = (5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0)
_REFERENCE_MV = {
    Reference.AG_AGCL_SATURATED: (219.0, 214.0, 209.0, 204.0, 199.0, 194.0, 189.0, 184.0),
    Reference.AG_AGCL_3M: (221.0, 217.0, 214.0, 210.0, 207.0, 203.0, 200.0, 196.0),
}


def _between(x: float, xs: tuple[float, ...], ys: tuple[float, ...], what: str) -> float:
    if not xs[0] <= x <= xs[-1]:
        raise ValueError(f"temperature = {x!r} deg C for {what}: accepted is {xs[0]:g} to {xs[-1]:g} deg C")
    for (x0, y0), (x1, y1) in pairwise(zip(xs, ys, strict=True)):
        if x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return ys[-1]


def buffer_ph(buffer: Buffer, temp_c: float = 25.0) -> float:
    """pH of a buffer at its temperature, straight lines between the tabulated 5 K. 0-50 C. Sources: beside the table."""
    return _between(ranges.TEMPERATURE.check(temp_c), _TEMPERATURES_C, _BUFFER_PH[buffer], buffer.value)


def reference_mv(reference: Reference, temp_c: float = 25.0) -> float:
    """Potential of a reference electrode against hydrogen. [mV]. 5-40 C."""
    if reference is Reference.HYDROGEN:
        return 0.0
    return _between(temp_c, _REFERENCE_C, _REFERENCE_MV[reference], reference.value)


def redox_standard_mv(solution: RedoxSolution, reference: Reference, temp_c: float = 25.0) -> float:
    """What a clean platinum electrode reads in a check solution. [mV]

    The reference has no default: 476 and 468 mV are the same solution on two references. Light's solution is known
    at 25 C only and refused away from it by more than 2 K. Acceptance: within 15 mV; 50 mV off is to be cleaned or
    replaced.
    Source : ZoBell 428 - 2.2 (t - 25), a handbook abstract (Nordstrom's 1977 polynomial, from memory, is 2 mV above
    it at 25 C). Quinhydrone 699.6 - 0.736 (t - 25) less the Nernst slope times the buffer's pH.
    """
    against = reference_mv(reference, temp_c)
    if solution is RedoxSolution.LIGHT:
        if abs(temp_c - 25.0) > 2.0:
            raise ValueError(f"temperature = {temp_c!r} deg C for {solution.value}: accepted is 23 to 27 deg C")
        return LIGHT_SHE_25C_MV - against
    if solution is RedoxSolution.ZOBELL:
        return 428.0 - 2.2 * (temp_c - 25.0) - against
    buffer = Buffer.PHTHALATE if solution is RedoxSolution.QUINHYDRONE_PH_4 else Buffer.PHOSPHATE
    ph = buffer_ph(buffer, temp_c)
    return 699.6 - 0.736 * (temp_c - 25.0) - electrodes.nernst_slope_mv(temp_c) * ph - against


CALIBRATED_DAYS: Mapping[str, float] = MappingProxyType({"ph": 60.0, "orp": 120.0, "free_chlorine": 30.0})
"""How long a check in its solution, or against a test by hand, is good for [days], by kind of probe.

Common practice: pH each month or two, redox a few times a season, chlorine cells each month.
"""
