"""Ionic strength and activity coefficients of pool water.

Salt makes the effective pKa of every weak acid smaller; a model that leaves it out is some 10 % off in HOCl without
cyanurate, and 0.16 off in the saturation index, at 3 g/L.
"""

import math

from dosectl.chemistry import ranges

DEBYE_HUCKEL_A_25C = 0.509  # from memory: the usual textbook figure at 25 C
NACL_G_MOL = 58.44
OTHER_IONS_MOL_L = 0.005  # hardness and alkalinity of an ordinary pool; common practice


def ionic_strength_from_salt(salt_g_l: float) -> float:
    """Ionic strength of water with this much NaCl: g/L / 58.44 + 0.005 for the rest. [mol/L]

    TDS / 40000, the rule of fresh water, is refused on purpose: it gives 0.08 for 3.2 g/L of salt against a real
    0.06.
    """
    return ranges.SALT.check(salt_g_l) / NACL_G_MOL + OTHER_IONS_MOL_L


def sodium_mol_l(ionic_strength: float) -> float:
    """Sodium in a salt pool of this ionic strength, the inverse of `ionic_strength_from_salt`. [mol/L]"""
    return max(0.0, ionic_strength - OTHER_IONS_MOL_L)


def debye_huckel_a(temp_c: float) -> float:
    """Debye-Hueckel constant: 1.82e6 (E T)^-1.5 with E = 60954/(T+116) - 68.937. 25 C: 0.511.

    Source: Standard Methods 2330 form, from memory.
    """
    t = temp_c + 273.15
    dielectric = 60954.0 / (t + 116.0) - 68.937
    return 1.82e6 * math.pow(dielectric * t, -1.5)


def davies_gamma(charge: int, ionic_strength: float, a: float = DEBYE_HUCKEL_A_25C) -> float:
    """Activity coefficient of an ion: log10 g = -A z2 (sqrt I/(1 + sqrt I) - 0.3 I). Source: Davies, from memory.

    Good to I about 0.5 mol/L.
    """
    root = math.sqrt(ionic_strength)
    return math.pow(10.0, -a * charge * charge * (root / (1.0 + root) - 0.3 * ionic_strength))
