"""Bad input: every public law refuses it and names the quantity, what was found and the accepted range."""

import math
from collections.abc import Callable

import pytest

from dosectl.chemistry import (
    calcite,
    carbonate,
    chlorine,
    decay,
    delivery,
    electrodes,
    gas_exchange,
    products,
    strengths,
    sunlight,
)
from dosectl.chemistry.answers import dechlorination, dosing
from dosectl.chemistry.answers.water import Water
from dosectl.chemistry.changes import losses

POOL = Water(50.0, 2.0, 7.8, 90.0, 40.0, 250.0, 3.2)

LAWS: list[tuple[str, Callable[[float], float]]] = [
    ("free chlorine", lambda x: chlorine.hocl_mg_l(x, 40.0, 7.5)),
    ("free chlorine", lambda x: chlorine.speciate(x, 40.0, 7.5).hocl_mg_l),
    ("cyanuric acid", lambda x: chlorine.hocl_mg_l(3.0, x, 7.5)),
    ("cyanuric acid", chlorine.upper_free_chlorine_limit_mg_l),
    ("pH", lambda x: chlorine.hocl_mg_l(3.0, 40.0, x)),
    ("water temperature", lambda x: chlorine.speciate(3.0, 40.0, 7.5, temp_c=x).hocl_mg_l),
    ("ionic strength", lambda x: chlorine.speciate(3.0, 40.0, 7.5, ionic_strength=x).hocl_mg_l),
    ("hypochlorous acid", lambda x: chlorine.free_chlorine_for_hocl(x, 40.0, 7.5)),
    ("total alkalinity", lambda x: carbonate.acid_demand_meq_l(x, 40.0, 7.8, 7.5)),
    ("pH", lambda x: carbonate.ph_after_acid(80.0, 40.0, x, 5.0)),
    ("change of alkalinity", lambda x: carbonate.ph_after_acid(80.0, 40.0, 7.5, x * 1e4)),
    ("salt", lambda x: carbonate.acid_demand_meq_l(80.0, 40.0, 7.8, 7.5, salt_g_l=x)),
    ("dissolved inorganic carbon", lambda x: carbonate.ph_from_alkalinity(80.0, x)),
    ("borate", lambda x: carbonate.total_alkalinity_to_dic(80.0, 7.5, 0.0, x)),
    ("calcium hardness", lambda x: calcite.saturation_index(7.5, 80.0, x)),
    ("CO2 pressure", lambda x: gas_exchange.ph_at_air_equilibrium(80.0, co2_atm=x)),
    ("depth", lambda x: gas_exchange.outgassing_mmol_l_s(7.5, 1.5, x)),
    ("sun elevation", lambda x: sunlight.clear_sky_uv(x * 200.0)),
    ("cloud cover", sunlight.cloud_transmission),
    ("hypochlorous acid", lambda x: electrodes.orp_mv(x, 7.5, e0_mv=750.0, slope_mv_decade=50.0)),
    ("electrode slope", lambda x: electrodes.orp_mv(0.02, 7.5, e0_mv=750.0, slope_mv_decade=x)),
    ("sunlight", lambda x: decay.photolysis_rate_mg_l_s(0.02, 0.02, 3.0, x)),
    ("bathers", decay.bather_demand_g),
    ("age", lambda x: decay.hypochlorite_strength_g_l(125.0, x, 25.0)),
    ("strength", lambda x: decay.hypochlorite_strength_g_l(x, 10.0, 25.0)),
    ("mass", lambda x: products.addition("salt", x, 50.0).salt_mg_l),
    ("volume", lambda x: products.addition("salt", 100.0, x).salt_mg_l),
    ("free chlorine", lambda x: dechlorination.neutraliser_g("sulfite", x, 50.0)[0]),
    ("hydrochloric acid", strengths.acid_meq_ml),
    ("pump rate", lambda x: delivery.pump_rate_g_s(x, 125.0)),
    ("strength", lambda x: delivery.pump_rate_g_s(50.0, x)),
    ("level", lambda x: delivery.pump_rate_g_s(50.0, 125.0, x)),
    ("acid strength", lambda x: delivery.acid_rate_g_s(50.0, x)),
    ("chlorinator output", lambda x: delivery.chlorinator_rate_g_s(x, 1.0)),
    ("cell current", delivery.faraday_rate_g_h),
    ("hypochlorous acid", lambda x: decay.photolysis_rate_mg_l_s(x, 0.0, 0.0, 0.5)),
    ("hypochlorite", lambda x: decay.photolysis_rate_mg_l_s(0.0, x, 0.0, 0.5)),
    ("bound chlorine", lambda x: decay.photolysis_rate_mg_l_s(0.0, 0.0, x, 0.5)),
    ("light in the depth", lambda x: decay.photolysis_rate_mg_l_s(0.1, 0.0, 0.0, 0.5, depth_share=x)),
    ("photolysis of the ring", lambda x: decay.photolysis_rate_mg_l_s(0.1, 0.0, 0.0, 0.5, k_ring_per_s=x)),
    ("demand", lambda x: losses.Site(demand_per_day=x).demand_per_day),
    ("shade", lambda x: losses.Site(shade=x).shade),
    ("depth", lambda x: losses.Site(depth_m=x).depth_m),
    ("free chlorine", lambda x: losses.time_to_fall_s([3.0, 2.0], 60.0, x, 1.5) or 0.0),
    ("free chlorine", lambda x: losses.time_to_fall_s([3.0, 2.0], 60.0, 4.0, x) or 0.0),
    ("saturation index", lambda x: calcite.ph_at_saturation(10.0 * x, 90.0, 250.0)),
    ("standard deviation of ph", lambda x: dosing.dose(POOL, dosing.acid(31.0), dosing.Goal.PH, 7.4, {"ph": x}).sigma),
    ("target", lambda x: dosing.dose(POOL, dosing.acid(31.0), dosing.Goal.PH, x).amount),
    ("hypochlorite strength", strengths.typical_hypochlorite_density_kg_l),
]


@pytest.mark.parametrize("value", [-1.0, math.nan, math.inf, -math.inf, 1e9])
@pytest.mark.parametrize(("quantity", "law"), LAWS, ids=[f"{i}-{q}" for i, (q, _) in enumerate(LAWS)])
def test_bad_numbers_are_refused_by_name(quantity: str, law: Callable[[float], float], value: float) -> None:
    with pytest.raises(ValueError, match="accepted is") as refusal:
        law(value)
    assert quantity in str(refusal.value)


def test_the_refusal_reads_as_a_person_needs_it() -> None:
    with pytest.raises(ValueError) as refusal:
        carbonate.ionic_strength_from_salt(3200.0)
    assert str(refusal.value) == "salt = 3200.0 g/L: accepted is 0 to 50 g/L; give g/L as NaCl; 3200 mg/L is 3.2 g/L"


@pytest.mark.parametrize("missing", [None, "3.0"])
def test_a_missing_value_or_a_text_is_refused_by_name_too(missing: object) -> None:
    with pytest.raises(ValueError, match="cyanuric acid = "):
        chlorine.hocl_mg_l(3.0, missing, 7.5)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="total alkalinity = "):
        calcite.saturation_index(7.5, missing, 250.0)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="acid = "):
        strengths.acid_ml(missing, 31.0)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="total alkalinity = "):
        carbonate.acid_demand_meq_l(missing, 40.0, 7.8, 7.5)  # type: ignore[arg-type]


def test_a_yes_is_no_number() -> None:
    with pytest.raises(ValueError, match="calcium hardness = True"):
        calcite.saturation_index(7.5, 90.0, True)


def test_a_ph_of_saturation_beyond_what_is_searched_is_not_told_as_its_edge() -> None:
    with pytest.raises(ValueError, match="between pH 6 and 9"):
        calcite.ph_at_saturation(0.0, 20.0, 5.0)
