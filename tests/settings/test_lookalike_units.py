"""A value that looks like another unit is refused with that guess; a key with another unit in its name says what to write."""

import pytest

from tests.settings.example_data import example, finding, findings

HYPO = "hypochlorite_and_acid"


@pytest.mark.parametrize(
    ("name", "place", "value", "guess"),
    [
        ("minimal", "pool__volume_m3", 50_000, "50000 litres would be 50 m3"),
        ("minimal", "pool__volume_m3", 13_209, "US gallons would be 50 m3"),
        ("minimal", "pool__salt_g_l", 3200, "3200 mg/L would be 3.2 g/L"),
        ("minimal", "pool__depth_m", 150, "150 centimetres would be 1.5 m"),
        ("minimal", "feeders__cell__output_g_h", 360, "360 grams per day would be 15 g/h"),
        ("minimal", "signals__pump__on_above_w", 0.15, "0.15 kilowatts would be 150 W"),
        ("minimal", "estimate__orp_reference_mv", 0.69, "0.69 volts would be 690 mV"),
        (HYPO, "feeders__chlorine__rate_ml_min", 1.5, "1.5 litres per hour would be 25 mL/min"),
        (HYPO, "feeders__chlorine__strength_trade_percent", 125, "125 g/L would be 12.5 trade %"),
        (HYPO, "feeders__chlorine__strength_trade_percent", 0.125, "0.125 as a share would be 12.5 trade %"),
        (HYPO, "feeders__chlorine__container_l", 20_000, "20000 millilitres would be 20 L"),
        (HYPO, "feeders__acid__strength_hcl_weight_percent", 0.15, "15 % by weight"),
        (HYPO, "signals__flow__on_above_l_min", 3600, "3600 litres per hour would be 60 L/min"),
    ],
)
def test_a_value_in_another_unit_is_refused_with_the_guess(name: str, place: str, value: float, guess: str) -> None:
    assert guess in finding(example(name, **{place: value}), place.replace("__", ".")).why


def test_percent_for_grams_per_litre_is_guessed() -> None:
    data = example(HYPO, feeders__chlorine__strength_trade_percent=None, feeders__chlorine__strength_g_l=12.5)
    assert "12.5 trade percent would be 125 g/L" in finding(data, "feeders.chlorine.strength_g_l").why


def test_percent_for_mg_l_and_degrees_fahrenheit_are_guessed_by_the_same_rule() -> None:
    from dosectl.settings.tables.guesses import unit_guess

    assert "0.008 percent would be 80 mg/L" in unit_guess(0.008, "mg/L", 20, 400)
    assert "78 degrees Fahrenheit would be 25.56 degC" in unit_guess(78, "degC", 0, 45)
    assert "298.15 kelvin would be 25 degC" in unit_guess(298.15, "degC", 0, 45) or "298.1" in unit_guess(298.15, "degC", 0, 45)
    assert unit_guess(7.0, "pH", 0, 5) == ""
    assert unit_guess(float("nan"), "mV", 0, 5) == ""


@pytest.mark.parametrize(
    ("name", "place", "value", "words"),
    [
        ("minimal", "pool__volume_l", 50_000, "write volume_m3 = 50"),
        ("minimal", "pool__volume_gal", 13_209, "write volume_m3 = 50"),
        ("minimal", "pool__volume", 50, "write volume_m3 if it is in m3"),
        ("minimal", "pool__salt_ppm", 3200, "write salt_g_l = 3.2"),
        ("minimal", "pool__depth_ft", 5, "write depth_m = 1.524"),
        ("minimal", "signals__pump__on_above_kw", 0.15, "write on_above_w = 150"),
        ("minimal", "signals__orp__offset_v", 0.01, "write offset_mv = 10"),
        ("minimal", "signals__water_temp__offset_degf", 32.0, "write offset_degc = 0"),
        (HYPO, "feeders__chlorine__rate_l_h", 1.5, "write rate_ml_min = 25"),
        (HYPO, "feeders__chlorine__rate_gpd", 9.5, "write rate_ml_min = 24.97"),
        (HYPO, "feeders__acid__container_gal", 1, "write container_l = 3.785"),
    ],
)
def test_a_key_with_another_unit_says_what_to_write(name: str, place: str, value: float, words: str) -> None:
    assert words in finding(example(name, **{place: value}), place.replace("__", ".")).do


@pytest.mark.parametrize("key", ["strength_percent", "strength", "chlorine_percent"])
def test_a_bare_percentage_of_hypochlorite_is_refused_with_its_readings(key: str) -> None:
    data = example(HYPO, feeders__chlorine__strength_trade_percent=None, **{f"feeders__chlorine__{key}": 12.5})
    found = finding(data, f"feeders.chlorine.{key}")
    assert "125 g/L by volume" in found.why
    assert "147 g/L by weight" in found.why
    assert "strength_trade_percent" in found.do


@pytest.mark.parametrize("factor", [10, 0.1, 3.785, 60, 1 / 60, 1000])
@pytest.mark.parametrize("key", ["rate_ml_min", "strength_trade_percent", "wired_timer_s_per_h"])
def test_a_wrong_factor_on_a_pump_is_refused_or_stays_inside_the_hourly_bound(key: str, factor: float) -> None:
    data = example(HYPO)
    data["feeders"]["chlorine"][key] = data["feeders"]["chlorine"][key] * factor
    if not findings(data):
        from tests.settings.example_data import loaded

        site = loaded(data).site
        assert all(feeder.hourly_cap_g / site.pool.volume_m3 <= 5.0 for feeder in site.feeders)
        assert site.feeders[0].hourly_cap_g / site.pool.volume_m3 <= 1.5
