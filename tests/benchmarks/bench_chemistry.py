"""How fast the laws of pool water are, and how far each stands from the outside.

    python tests/benchmarks/bench_chemistry.py

Prints calls a second on one core, the best of five rounds, and the ratio to the 20,000 speciations a second that a control
loop asks for; then the largest deviation of each law from its outside table. It is no test: figures depend on the machine.
"""

import math
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent.parent))

from dosectl.chemistry import calcite, carbonate, chlorine, decay, electrodes, gas_exchange, products, sunlight
from dosectl.chemistry.answers import dechlorination, dosing
from dosectl.chemistry.answers.water import Water
from tests.chemistry.reference_rows import numbers, relative, rows

WANTED_PER_S = 20_000.0


def per_second(law: Callable[[int], object], calls: int = 1000) -> float:
    """Calls a second, the best of five rounds, so that a neighbour's load counts least."""
    best = math.inf
    for _ in range(5):
        start = time.perf_counter()
        for i in range(calls):
            law(i)
        best = min(best, time.perf_counter() - start)
    return calls / best


def speeds() -> list[tuple[str, Callable[[int], object]]]:
    """The laws a loop calls, each over changing waters, so that no branch is always the same."""
    k = carbonate.constants(27.0, 0.06)
    other = carbonate.buffers(40.0)
    dic = carbonate.dic_mol_l(7.5, 0.0017, other, k)
    at = datetime(2026, 6, 21, 10, 30, tzinfo=UTC)
    pool = Water(50.0, 2.0, 7.8, 90.0, 40.0, 250.0, 3.2, 27.0)
    doubts = {"volume_m3": 2.5, "ph": 0.1, "ta_mg_l": 7.0, "free_chlorine_mg_l": 0.2}
    liquid, sour = dosing.hypochlorite(125.0), dosing.acid(31.45)
    return [
        ("hocl_mg_l, usual waters", lambda i: chlorine.hocl_mg_l(0.5 + i % 97 * 0.1, 20.0 + i % 83, 7.0 + i % 11 * 0.1)),
        ("hocl_mg_l, saturated ring", lambda i: chlorine.hocl_mg_l(10.0 + i % 97, 5.0 + i % 13, 7.0 + i % 11 * 0.1)),
        ("speciate, all forms", lambda i: chlorine.speciate(0.5 + i % 97 * 0.1, 40.0, 7.5)),
        ("speciate, salt and temperature", lambda i: chlorine.speciate(3.0, 40.0, 7.5, temp_c=28.0, ionic_strength=0.06)),
        ("free_chlorine_for_hocl", lambda i: chlorine.free_chlorine_for_hocl(0.03, 20.0 + i % 83, 7.5)),
        ("solve_ph, constants kept", lambda i: carbonate.solve_ph(0.0017 - i % 97 * 1e-6, dic, other, k)),
        ("ph_after_acid, from tests", lambda i: carbonate.ph_after_acid(80.0, 40.0, 7.8, i % 97 * 0.1, salt_g_l=3.2)),
        ("acid_demand_meq_l", lambda i: carbonate.acid_demand_meq_l(80.0 + i % 31, 40.0, 7.8, 7.5, salt_g_l=3.2)),
        ("saturation_index", lambda i: calcite.saturation_index(7.5, 80.0, 250.0 + i % 31, cya_mg_l=40.0, salt_g_l=3.2)),
        ("sun_elevation_deg", lambda i: sunlight.sun_elevation_deg(at, 30.0 + i % 31, 10.0)),
        ("orp_mv", lambda i: electrodes.orp_mv(0.01 + i % 31 * 1e-3, 7.5, e0_mv=750.0, slope_mv_decade=60.0)),
        ("dose answer, chlorine", lambda i: dosing.dose(pool, liquid, dosing.Goal.FREE_CHLORINE, 3.0 + i % 31 * 0.1, doubts)),
        ("dose answer, acid for pH", lambda i: dosing.dose(pool, sour, dosing.Goal.PH, 7.3 + i % 31 * 0.01, doubts)),
        ("addition of a product", lambda i: products.addition("dichlor", 100.0 + i % 31, 50.0)),
    ]


def small_tables() -> list[tuple[str, float, str]]:
    """As `deviations`, of the tables that need one line each."""
    morris = max(
        abs(chlorine.speciate(1.0, 0.0, ph, temp_c=temp_c).hocl_mg_l - share)
        for ph, temp_c, share in (
            (7.0, 25.0, 0.775),
            (7.2, 25.0, 0.685),
            (7.5, 25.0, 0.521),
            (7.8, 25.0, 0.353),
            (8.0, 25.0, 0.256),
        )
    )
    life = max(
        relative(decay.surface_half_life_min(ph), minutes) for ph, minutes in ((5.0, 60.0), (7.0, 27.0), (7.5, 17.1), (8.0, 12.0))
    )
    side = 0.0
    for row in rows("products.csv"):
        name = next((key for word, key in PRODUCTS.items() if row["product"].startswith(word)), None)
        if name is not None and "%" not in row["product"]:
            per = products.product(name).per_g_chlorine()
            for told, found in (("cya_mg_per_mg_fc", per.cya_mg_l), ("ta_net_mg_per_mg_fc", per.ta_net_mg_l)):
                side = max(side, abs(found - float(row[told])))
    agent = max(
        relative(dechlorination.neutraliser(key).g_per_g_least, moles * g_mol / 70.906)
        for key, moles, g_mol in (("thiosulfate", 0.25, 158.11), ("sulfite", 1.0, 126.04), ("ascorbic_acid", 1.0, 176.12))
    )
    sun = abs(sunlight.sun_elevation_deg(datetime(2026, 6, 21, 12, 2, tzinfo=UTC), 45.0, 0.0) - 68.44)
    return [
        ("share of HOCl without stabiliser; Morris (1966)", morris, ""),
        ("half-life in the sun; Nowell & Hoigne (1992)", 100.0 * life, "%"),
        ("side effects of chlorine products; stoichiometry", side, "mg/mg"),
        ("least neutraliser; stoichiometry", 100.0 * agent, "%"),
        ("height of the midsummer sun; 90 - 45 + 23.44 degrees", sun, "deg"),
    ]


PRODUCTS = {
    "NaOCl (pure": "sodium_hypochlorite",
    "Ca(OCl)2 pure": "calcium_hypochlorite",
    "dichlor a": "dichlor",
    "trichlor": "trichlor",
}


def deviations() -> list[tuple[str, float, str]]:
    """Largest deviation of each law from its table, and in what."""
    hocl_scipy = hocl_phreeqc = 0.0
    for row in rows("cya_hocl.csv"):
        fc, cya, ph, scipy, phreeqc = numbers(row, "fc_mg_l", "cya_mg_l", "ph", "hocl_own_mg_l", "hocl_phreeqc_mg_l")
        found = chlorine.hocl_mg_l(fc, cya, ph)
        hocl_scipy, hocl_phreeqc = max(hocl_scipy, relative(found, scipy)), max(hocl_phreeqc, relative(found, phreeqc))
    salt = 0.0
    for row in rows("cya_hocl_salt.csv"):
        fc, cya, ph, ionic, phreeqc = numbers(row, "fc_mg_l", "cya_mg_l", "ph", "ionic_strength", "hocl_phreeqc_mg_l")
        salt = max(salt, relative(chlorine.speciate(fc, cya, ph, ionic_strength=ionic).hocl_mg_l, phreeqc))
    acid = 0.0
    for row in rows("acid_demand.csv"):
        ta, cya, boron, start, end, phreeqc = numbers(
            row, "ta_mg_l", "cya_mg_l", "borate_b_mg_l", "ph_from", "ph_to", "acid_meq_l_phreeqc"
        )
        found = carbonate.acid_demand_meq_l(ta, cya, start, end, borate_b_mg_l=boron, salt_g_l=3.2)
        acid = max(acid, relative(found, phreeqc))
    base = 0.0
    for row in rows("base_demand.csv"):
        ta, cya, start, end, ash = numbers(row, "ta_mg_l", "cya_mg_l", "ph_from", "ph_to", "na2co3_g_m3")
        base = max(base, relative(carbonate.base_demand_mmol_l(ta, cya, start, end, salt_g_l=3.2) * 105.99, ash))
    air = 0.0
    for row in rows("co2_equilibrium.csv"):
        temp_c, ta, cya, ph = numbers(row, "temp_c", "ta_mg_l", "cya_mg_l", "ph_at_air_equilibrium")
        found = gas_exchange.ph_at_air_equilibrium(ta, cya, temp_c=temp_c, salt_g_l=3.2, co2_atm=10**-3.377)
        air = max(air, abs(found - ph))
    worked = phreeqc_si = 0.0
    for row in rows("saturation_index.csv"):
        temp_c, ph, ta, cya, ch, nacl, lsi, si = numbers(
            row, "temp_c", "ph", "ta_mg_l", "cya_mg_l", "ch_mg_l", "nacl_g_kg", "lsi_2330", "si_phreeqc"
        )
        found = calcite.saturation_index(ph, ta, ch, cya_mg_l=cya, temp_c=temp_c, salt_g_l=nacl)
        worked, phreeqc_si = max(worked, abs(found - lsi)), max(phreeqc_si, abs(found - si))
    storage = 0.0
    for row in rows("hypochlorite_decay.csv"):
        trade, temp_c, days = numbers(row, "trade_percent", "temp_c", "half_life_days")
        storage = max(storage, relative(decay.hypochlorite_half_life_days(10.0 * trade, temp_c), days))
    return [
        ("HOCl with cyanurate; O'Brien et al. (1974), separate solver", 100.0 * hocl_scipy, "%"),
        ("HOCl with cyanurate, 800 rows; PHREEQC, same constants", 100.0 * hocl_phreeqc, "%"),
        ("HOCl with salt, PHREEQC", 100.0 * salt, "%"),
        ("acid demand, PHREEQC", 100.0 * acid, "%"),
        ("soda ash demand, PHREEQC", 100.0 * base, "%"),
        ("pH in balance with air, PHREEQC", air, "pH"),
        ("saturation index, the 2330 form worked separately", worked, ""),
        ("saturation index, PHREEQC", phreeqc_si, ""),
        ("half-life of stored hypochlorite; formula from memory", 100.0 * storage, "%"),
        *small_tables(),
    ]


if __name__ == "__main__":
    print(f"{'law':<36}{'calls/s':>12}{'ratio to 20,000/s':>20}")
    for name, law in speeds():
        rate = per_second(law)
        print(f"{name:<36}{rate:>12,.0f}{rate / WANTED_PER_S:>20.1f}")
    print(f"\n{'checked against':<60}{'largest deviation':>20}")
    for name, largest, unit in deviations():
        print(f"{name:<60}{largest:>17.4f} {unit}")
