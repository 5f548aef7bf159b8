"""What can't be made safe is refused with the reason: flow evidence, feedback, full output, strength, references."""

from typing import Any

import pytest

from tests.settings.example_data import example, finding, findings, loaded

SALT, HYPO = "salt_and_acid", "hypochlorite_and_acid"


@pytest.mark.parametrize("name", ["minimal", SALT, HYPO])
def test_an_example_as_it_is_has_no_finding(name: str) -> None:
    assert findings(example(name)) == ()


@pytest.mark.parametrize("lost", ["flow", "pump"])
def test_a_pumped_chemical_on_one_principle_of_flow_evidence_is_refused(lost: str) -> None:
    found = finding(example(HYPO, **{f"signals__{lost}": None}), "feeders.chlorine.kind")
    assert "one principle of flow" in found.why
    assert f"kind {lost}" in found.do


def test_two_flow_switches_are_one_principle() -> None:
    data = example(HYPO, signals__pump=None, signals__flow2={"kind": "flow", "topic": "plant/flow2", "period_s": 1})
    assert "one principle" in finding(data, "feeders.acid.kind").why


def test_a_cell_needs_two_principles_unless_it_has_a_cutout_of_its_own() -> None:
    assert "own_cutout" in finding(example(signals__pump=None), "feeders.cell.kind").why
    assert findings(example(signals__pump=None, feeders__cell__own_cutout=True)) == ()
    assert findings(example(signals__pump=None, signals__flow=None, feeders__cell__own_cutout=True)) != ()


@pytest.mark.parametrize(
    ("name", "signal", "period_s", "edges", "refused"),
    [
        ("minimal", "flow", 3, False, False),
        ("minimal", "flow", 3.5, False, True),
        ("minimal", "flow", 5, True, True),  # edges alone are no heartbeat
        ("minimal", "pump", 10, False, True),
        (HYPO, "flow", 1, False, False),
        (HYPO, "flow", 2, False, True),
        (HYPO, "flow", 3, True, False),
        (HYPO, "flow", 4, True, True),
        (HYPO, "pump", 3, False, True),
    ],
)
def test_flow_must_be_heard_in_time(name: str, signal: str, period_s: float, edges: bool, refused: bool) -> None:
    data = example(name, **{f"signals__{signal}__period_s": period_s, f"signals__{signal}__edges": edges})
    assert [item.key for item in findings(data)] == ([f"signals.{signal}.period_s"] if refused else [])


def test_two_chemicals_without_load_feedback_on_both_are_refused() -> None:
    switch = {"kind": "feedback", "topic": "plant/cell_on"}
    found = finding(example(SALT, signals__cell_load=switch), "feeders.cell.feedback")
    assert "measured at the load" in found.why
    assert findings(example(SALT, signals__cell_load={**switch, "at_load": True})) == ()


def test_a_feeder_without_feedback_is_refused_and_a_single_one_may_have_an_echo() -> None:
    assert "stays on" in finding(example(feeders__cell__feedback=None), "feeders.cell.feedback").why
    data = example(signals__cell_load={"kind": "feedback", "topic": "plant/cell_on"})
    assert findings(data) == ()
    assert not loaded(data).site.feeders[0].metered


def test_a_pump_whose_full_output_is_unbounded_is_refused_with_the_figure_and_what_to_do() -> None:
    found = finding(example(HYPO, feeders__chlorine__wired_timer_s_per_h=None), "feeders.chlorine.rate_ml_min")
    assert "4.69 mg/L an hour" in found.why  # 25 mL/min of 125 g/L for an hour into 40 m3
    assert "bound is 1.5" in found.why
    assert "at most 8 mL/min" in found.do
    assert "wired_timer_s_per_h = 1152" in found.do
    assert "pool.volume_m3" in found.do


def test_what_the_refusal_advises_is_accepted() -> None:
    assert findings(example(HYPO, feeders__chlorine__wired_timer_s_per_h=1152)) == ()
    assert findings(example(HYPO, feeders__chlorine__wired_timer_s_per_h=None, feeders__chlorine__rate_ml_min=8.0)) == ()


def test_acid_is_bounded_in_alkalinity() -> None:
    found = finding(example(SALT, feeders__acid__node_cap_s_per_h=None), "feeders.acid.rate_ml_min")
    assert "of alkalinity an hour" in found.why
    assert "bound is 5" in found.why


def test_a_large_cell_in_a_small_pool_is_refused() -> None:
    found = finding(example(pool__volume_m3=5.0), "feeders.cell.output_g_h")
    assert "3 mg/L an hour into 5 m3" in found.why


def test_feeders_of_one_substance_are_bounded_together() -> None:
    pump = {
        **example(HYPO)["feeders"]["chlorine"],
        "feedback": "load2",
        "relay": {"on_topic": "r3", "on_payload": "{seconds}", "off_payload": "0"},
    }
    load = {"kind": "feedback", "topic": "plant/load2", "on_above_a": 0.05}
    assert "together" in finding(example(HYPO, feeders__chlorine2=pump, signals__load2=load), "feeders").why


def test_a_cap_of_the_node_needs_a_node() -> None:
    data = example(HYPO, feeders__chlorine__wired_timer_s_per_h=None, feeders__chlorine__node_cap_s_per_h=1000)
    assert "no counter" in finding(data, "feeders.chlorine.node_cap_s_per_h").why


@pytest.mark.parametrize(
    "changes",
    [
        {"strength_trade_percent": None},
        {"strength_g_l": 125},
        {"strength_trade_percent": None, "strength_weight_percent": 10.4},
        {"density_kg_l": 1.2},
    ],
)
def test_a_strength_that_is_not_sure_is_refused(changes: dict[str, Any]) -> None:
    keys = {f"feeders__chlorine__{key}": value for key, value in changes.items()}
    assert [item for item in findings(example(HYPO, **keys)) if item.key.startswith("feeders.chlorine")]


def test_strengths_by_volume_by_weight_and_in_grams_agree() -> None:
    by_volume = loaded(example(HYPO)).site.feeders[0].rate_g_s
    keys = {"feeders__chlorine__strength_trade_percent": None}
    in_grams = loaded(example(HYPO, **keys, feeders__chlorine__strength_g_l=125)).site.feeders[0].rate_g_s
    weight = {"feeders__chlorine__strength_weight_percent": 10.0, "feeders__chlorine__density_kg_l": 1.25}
    by_weight = loaded(example(HYPO, **keys, **weight)).site.feeders[0].rate_g_s
    assert by_volume == pytest.approx(25 / 60 * 0.125)  # mL/s x g/mL
    assert in_grams == pytest.approx(by_volume)
    assert by_weight == pytest.approx(by_volume)


@pytest.mark.parametrize(
    ("changes", "key", "words"),
    [
        ({"feeders__cell__feedback": "cell_laod"}, "feeders.cell.feedback", '"cell_load"'),
        ({"feeders__cell__feedback": "orp"}, "feeders.cell.feedback", "another signal"),
        ({"signals__spare": {"kind": "feedback", "topic": "x"}}, "signals.spare", "feedback ="),
        ({"signals__orp__partner": "orp2"}, "signals.orp.partner", "kind"),
        ({"signals__orp__partner": "orp"}, "signals.orp.partner", "other probe"),
        ({"signals__ph__topic": "plant/orp"}, "signals.ph.topic", "own topic"),
        ({"signals__ph__topic": "dosectl/pool/feeder/cell/command"}, "signals.ph.topic", "elsewhere"),
        ({"signals__orp": None}, "signals.orp", "[signals.orp]"),
        ({"signals__ph": None}, "signals.ph", "[signals.ph]"),
        ({"signals__water_temp": None}, "signals.water_temp", "[signals.water_temp]"),
        ({"signals__flow__unit": "L/min"}, "signals.flow.on_above_l_min", "half"),
        ({"signals__cell_load__unit": "mA"}, "signals.cell_load.unit", "kW"),
        ({"signals__cell_load__on_above_a": 1}, "signals.cell_load", "keep one"),
        ({"signals__orp__scale": 0}, "signals.orp.scale", "factor"),
        ({"signals__flow__off_words": ["ON "]}, "signals.flow.on_words", "one thing"),
        ({"signals__orp__age_s_max": 500}, "signals.orp.age_s_max", "it means"),
        ({"feeders__cell__node": None}, "feeders.cell", "node ="),
        ({"feeders__cell__pulse_s_min": 1800, "feeders__cell__pulse_s_max": 60}, "feeders.cell.pulse_s_min", "shorter"),
        ({"timing__renew_s": 8}, "timing.renew_s", "half"),
        ({"broker__password_file": "nothing"}, "broker.password_file", ""),
    ],
)
def test_names_topics_units_and_times_must_fit(changes: dict[str, Any], key: str, words: str) -> None:
    assert words in finding(example(**changes), key).do


def test_a_signal_of_a_chlorine_cell_may_stand_in_for_the_redox_electrode() -> None:
    assert findings(example(signals__orp=None, signals__free_chlorine={"topic": "plant/fc"})) == ()


def test_a_pool_that_is_only_fed_acid_needs_no_redox_electrode() -> None:
    data = example(SALT, feeders__cell=None, signals__cell_load=None, signals__cell_current=None, signals__orp=None)
    assert findings(data) == ()
    assert any("none feeds chlorine" in warning for warning in loaded(data).warnings)


def test_the_echo_of_our_own_command_is_no_feedback() -> None:
    data = example(HYPO, signals__acid_load={"kind": "feedback", "topic": "plant/relay/2/set", "at_load": True})
    assert "no evidence" in finding(data, "signals.acid_load.topic").why


@pytest.mark.parametrize(
    ("changes", "key"),
    [
        ({"control": {"pump_pulse_mg_l_min": 0.35, "pump_pulse_mg_l_max": 0.2}}, "control.pump_pulse_mg_l_min"),
        ({"guards": {"acid": {"budget": {"limit_share": 0.3, "stop_share": 0.2}}}}, "guards.acid.budget.limit_share"),
        ({"probes": {"prove_s": 900, "prove_long_s": 600}}, "probes.prove_s"),
    ],
)
def test_pairs_of_settings_stand_in_their_order(changes: dict[str, Any], key: str) -> None:
    assert "larger than" in finding(example(**changes), key).why


@pytest.mark.parametrize(
    ("longitude_deg", "zone", "warned"),
    [
        (9.8, "Europe/Zurich", False),
        (-74.0, "America/New_York", False),
        (74.0, "America/New_York", True),
        (-179.0, "Pacific/Auckland", False),
    ],
)
def test_a_longitude_of_the_wrong_sign_is_warned_of(longitude_deg: float, zone: str, warned: bool) -> None:
    warnings = loaded(example(pool__longitude_deg=longitude_deg, pool__time_zone=zone)).warnings
    assert any("longitude_deg" in warning for warning in warnings) is warned


def test_one_feedback_can_t_speak_for_two_feeders() -> None:
    assert "can't speak for two" in finding(example(SALT, feeders__acid__feedback="cell_load"), "feeders.acid.feedback").why


def test_two_probes_of_a_kind_check_each_other() -> None:
    data = example(signals__orp__partner="orp2", signals__orp2={"kind": "orp", "topic": "plant/orp2"})
    signals = {signal.id: signal for signal in loaded(data).site.signals}
    assert signals["orp"].partner == "orp2"  # type: ignore[index]


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("on_payload", "ON", "{seconds}"),
        ("on_payload", '{"for": {secs}, "x": {seconds}}', "{seconds}"),
        ("off_payload", "{seconds}", "in the OFF none"),
        ("on_topic", "plant/+/set", "without"),
    ],
)
def test_a_relay_that_would_not_end_by_itself_is_refused(key: str, value: str, words: str) -> None:
    assert words in finding(example(HYPO, **{f"feeders__acid__relay__{key}": value}), f"feeders.acid.relay.{key}").do


def test_a_relay_can_t_be_retained() -> None:
    finding(example(HYPO, feeders__acid__relay__retain=True), "feeders.acid.relay.retain")


def test_two_feeders_can_t_share_a_relay() -> None:
    finding(example(HYPO, feeders__acid__relay__on_topic="plant/relay/1/set"), "feeders.acid.relay.on_topic")


def test_a_percentage_needs_its_place_in_the_template() -> None:
    assert "{percent}" in finding(example(HYPO, feeders__acid__percent=True), "feeders.acid.relay.on_payload").do


def test_too_much_connected_acid_is_warned_of_with_the_litres_that_are_right() -> None:
    warnings = loaded(example(SALT, feeders__acid__container_l=20)).warnings
    assert any("connect at most 5.4 L" in warning for warning in warnings)  # 30 % of 80 mg/L in 50 m3 by acid of 4.42 mol/L


def test_a_broker_on_the_network_without_account_or_tls_is_warned_of() -> None:
    assert any("account" in warning for warning in loaded(example(broker__host="10.0.0.2")).warnings)
