"""The chemistry against PHREEQC (phreeqc.dat) run here and now, with the cyanurate and chlorine species added.

The species block is tests/reference/pool_species.pqi; without its "-gamma" lines PHREEQC applies Davies to those
species. The waters are drawn over a wider range than the stored tables: cold and warm, fresh to 6 g/kg salt, little
and much stabiliser, small and large steps. Each tolerance is told with its reason; none was fitted to what came
out.
"""

import functools
import itertools
import re
from dataclasses import dataclass

import pytest
from phreeqpython import PhreeqPython

from dosectl.chemistry import calcite, carbonate, chlorine, gas_exchange
from dosectl.chemistry.activity import NACL_G_MOL
from dosectl.chemistry.answers import dosing
from dosectl.chemistry.answers.water import Water as Pool
from dosectl.chemistry.buffering import MG_CACO3_PER_EQ
from tests.chemistry.reference_rows import FOLDER

MEQ_PER_MG = 1000.0 / MG_CACO3_PER_EQ


@functools.cache
def engine(ideal: bool) -> PhreeqPython:
    """PHREEQC with pool species; `ideal` keeps their activity coefficients at 1."""
    made = PhreeqPython(database="phreeqc.dat")
    text = (FOLDER / "pool_species.pqi").read_text(encoding="utf-8")
    block = text[text.index("SOLUTION_MASTER_SPECIES") : text.index("# Example")]
    made.ip.run_string(block if ideal else re.sub(r"\n\s+-gamma 1e9 0", "", block))
    return made


def run(inputs: list[str], punch: str, headings: str, *, ideal: bool = False, extra: str = "") -> list[list[float]]:
    """Runs solutions numbered from 1; gives the last row of each."""
    out = f"SELECTED_OUTPUT 1\n -reset false\n{extra}\nUSER_PUNCH 1\n -headings {headings}\n -start\n{punch}\n -end\nEND"
    ip = engine(ideal).ip
    found: list[list[float]] = []
    for one in inputs:
        ip.run_string(f"{one}\n{out}")
        found.append(list(ip.get_selected_output_array()[-1]))
    return found


@dataclass(frozen=True, slots=True)
class Water:
    """A pool water in the units that people test in."""

    temp_c: float
    salt_g_kg: float
    ta: float
    cya: float
    ph: float

    def solution(self, extra: str = "") -> str:
        salt = self.salt_g_kg / NACL_G_MOL * 1000.0
        return (
            f"SOLUTION 1\n temp {self.temp_c}\n pH {self.ph}\n units mmol/kgw\n Na {salt}\n Cl {salt} charge\n"
            f" Alkalinity {self.ta * MEQ_PER_MG}\n Cyu {self.cya / 129.074}\n{extra}"
        )


WATERS = [
    Water(*w) for w in itertools.product((8.0, 25.0, 33.0), (0.3, 3.2, 6.0), (70.0, 130.0), (0.0, 40.0, 100.0), (7.3, 7.8, 8.2))
]


def test_acid_over_a_wide_grid_of_waters() -> None:
    # 3 %: ions' activity coefficients are Davies here and fitted forms there, and the code adds 0.005 mol/L of
    # ionic strength
    # for hardness and the rest, which these waters do not have.
    inputs, cases = [], []
    for water in WATERS:
        for step in (0.1, 0.4):
            end = water.ph - step
            inputs.append(water.solution(f"EQUILIBRIUM_PHASES 1\n Fix_H+ {-end} HCl 10"))
            cases.append((water, end))
    # 10 mol of HCl stand ready; what PHREEQC took of it is the demand.
    found = run(inputs, '10 PUNCH 10-EQUI("Fix_H+")', "hcl", extra=" -equilibrium_phases Fix_H+")
    for (water, end), row in zip(cases, found, strict=True):
        acid = 1000.0 * row[-1]
        ours = carbonate.acid_demand_meq_l(water.ta, water.cya, water.ph, end, temp_c=water.temp_c, salt_g_l=water.salt_g_kg)
        assert ours == pytest.approx(acid, rel=0.03), (water, end)


def test_co2_pressure_over_the_same_waters() -> None:
    # 0.03 decades (7 %): neutral CO2 has an activity coefficient there and none here, up to 2.4 % at 6 g/kg, with
    # Davies on top.
    found = run([w.solution() for w in WATERS], '10 PUNCH SI("CO2(g)")', "pco2")
    for water, row in zip(WATERS, found, strict=True):
        ours = gas_exchange.co2_pressure_atm(water.ta, water.cya, water.ph, temp_c=water.temp_c, salt_g_l=water.salt_g_kg)
        assert ours == pytest.approx(10 ** row[-1], rel=0.07), water


def test_calcite_index_over_the_same_waters() -> None:
    # 0.05: PHREEQC also pairs calcium with bicarbonate and carbonate.
    calcium = [w.solution(f" Ca {250.0 / 100.087}\n") for w in WATERS]
    found = run(calcium, '10 PUNCH SI("Calcite")', "si")
    for water, row in zip(WATERS, found, strict=True):
        ours = calcite.saturation_index(
            water.ph, water.ta, 250.0, cya_mg_l=water.cya, temp_c=water.temp_c, salt_g_l=water.salt_g_kg
        )
        assert ours == pytest.approx(row[-1], abs=0.05), water


def test_chlorine_species_with_concentration_constants() -> None:
    # 1e-3: the activity of water (0.9998) is all that parts them.
    cases = list(itertools.product((0.7, 2.5, 9.0, 25.0), (5.0, 35.0, 90.0), (6.9, 7.45, 8.1)))
    inputs = [
        f"SOLUTION 1\n temp 25\n pH {ph}\n units mmol/kgw\n Na 5 charge\n Cl 5\n Av {fc / 70.906}\n Cyu {cya / 129.074}"
        for fc, cya, ph in cases
    ]
    punch = '10 PUNCH MOL("AvOH"), MOL("AvO-"), MOL("HAvCyu-")+MOL("H2AvCyu")+MOL("AvCyu-2"), MOL("Av2Cyu-")+MOL("HAv2Cyu")'
    for (fc, cya, ph), row in zip(cases, run(inputs, punch, "a b c d", ideal=True), strict=True):
        hocl, ocl, one, two = (70906.0 * x for x in row[-4:])
        s = chlorine.speciate(fc, cya, ph)
        assert s.hocl_mg_l == pytest.approx(hocl, rel=1e-3)
        assert s.ocl_mg_l == pytest.approx(ocl, rel=1e-3)
        assert s.bound_one_mg_l == pytest.approx(one, rel=1e-3)
        assert s.bound_two_mg_l == pytest.approx(2.0 * two, rel=1e-3)


def test_ph_after_hypochlorite_and_after_its_end() -> None:
    # 0.02 pH: here all chlorine on the ring counts as HClCy-, there some is Cl2Cy- and H2ClCy.
    water = Water(25.0, 3.2, 80.0, 40.0, 7.5)
    for fc in (1.0, 3.0, 6.0):
        dose = fc / 70.906
        row = run([water.solution(f"REACTION 1\n AvOH 1 NaOH 1\n {dose / 1000.0}")], '10 PUNCH -LA("H+")', "ph")[0]
        up = carbonate.ph_after_change(
            80.0, 40.0, 7.5, ta_change_mg_l=dose * MG_CACO3_PER_EQ / 1000.0, free_chlorine_change_mg_l=fc, salt_g_l=3.2
        )
        assert up == pytest.approx(row[-1], abs=0.02)
        assert up > 7.5


@pytest.mark.parametrize("cya", [0.0, 20.0, 50.0])
@pytest.mark.parametrize("fc", [8.0, 15.0, 25.0])
def test_ph_after_a_shock_that_fills_the_ring(fc: float, cya: float) -> None:
    # 0.03 pH: all species with the same constants on both sides; Davies and calcium-free pairs are what parts them. A model that
    # puts all chlorine on the ring as HClCy- is 0.1 to 0.4 off here.
    water = Water(25.0, 3.2, 90.0, cya, 7.5)
    dose = fc / 70.906
    row = run([water.solution(f"REACTION 1\n AvOH 1 NaOH 1\n {dose / 1000.0}")], '10 PUNCH -LA("H+")', "ph")[0]
    up = carbonate.ph_after_change(
        90.0, cya, 7.5, ta_change_mg_l=dose * MG_CACO3_PER_EQ / 1000.0, free_chlorine_change_mg_l=fc, salt_g_l=3.2
    )
    assert up == pytest.approx(row[-1], abs=0.03)


@pytest.mark.parametrize(
    ("key", "reaction", "g_mol"),
    [
        ("trichlor", "AvOH 3 H3Cyu 1", 232.40),
        ("dichlor", "AvOH 2 NaOH 1 H3Cyu 1", 219.94),
        ("cyanuric_acid", "H3Cyu 1", 129.074),
        ("soda_ash", "Na2CO3 1", 105.988),
        ("bicarbonate", "NaHCO3 1", 84.007),
        ("dry_acid", "NaHSO4 1", 120.06),
        ("caustic_soda", "NaOH 1", 39.997),
        ("borax", "B(OH)3 4 NaOH 2", 381.37),
        ("boric_acid", "B(OH)3 1", 61.83),
    ],
)
def test_ph_after_every_solid_product(key: str, reaction: str, g_mol: float) -> None:
    # 0.02 pH, as for hypochlorite: forms of chlorine on the ring beside HClCy- are left out here, and Davies is
    # Davies.
    tested = Water(25.0, 3.2, 90.0, 30.0, 7.5)
    for grams_m3 in (2.0, 6.0):
        moles = grams_m3 / g_mol / 1000.0
        row = run([tested.solution(f"REACTION 1\n {reaction}\n {moles}")], '10 PUNCH -LA("H+")', "ph")[0]
        pool = Pool(1.0, 0.0, 7.5, 90.0, 30.0, salt_g_l=3.2)
        assert dosing.add(pool, dosing.granules(key), grams_m3).ph == pytest.approx(row[-1], abs=0.02)


@pytest.mark.parametrize("temp_c", [8.0, 33.0])
def test_acid_with_borate_in_cold_and_warm_water(temp_c: float) -> None:
    # 3 %, as over the grid. 50 mg/L of boron holds a third of the acid, so its constant must move with temperature.
    tested = Water(temp_c, 3.2, 100.0, 30.0, 8.0)
    phases = f" B {50.0 / 10.81}\nEQUILIBRIUM_PHASES 1\n Fix_H+ -7.6 HCl 10"
    row = run([tested.solution(phases)], '10 PUNCH 10-EQUI("Fix_H+")', "hcl", extra=" -equilibrium_phases Fix_H+")[0]
    ours = carbonate.acid_demand_meq_l(100.0, 30.0, 8.0, 7.6, borate_b_mg_l=50.0, temp_c=temp_c, salt_g_l=3.2)
    assert ours == pytest.approx(1000.0 * row[-1], rel=0.03)
