"""Each named fault changes what its text says, and ending it undoes it."""

from collections.abc import Callable
from datetime import UTC, datetime
from itertools import pairwise

import pytest

from dosectl.pool_model.faults.registry import FAULTS
from dosectl.pool_model.params import ACID_15, HYPOCHLORITE
from dosectl.pool_model.plant import PoolPlant
from tests.pool_model.pools import a_plant


def running(*, hypochlorite: bool = False) -> PoolPlant:
    """A pool an hour after its pump started."""
    plant = a_plant(feeders=(HYPOCHLORITE, ACID_15)) if hypochlorite else a_plant()
    plant.advance(3600.0, {})
    return plant


def number(plant: PoolPlant, name: str) -> float:
    """A signal that is a number."""
    return float(plant.signals()[name])


def flow_lost(plant: PoolPlant) -> bool:
    return plant.signals()["flow"] is False and number(plant, "pump_w") > 0.0 and plant.truth().pump_on


def flow_blink(plant: PoolPlant) -> bool:
    down = plant.signals()["flow"] is False
    plant.advance(0.2, {})
    return down and plant.signals()["flow"] is True


def flow_switch_stuck_on(plant: PoolPlant) -> bool:
    plant.set_fault("pump_off", True)
    stuck = plant.signals()["flow"] is True and not plant.truth().flow
    plant.set_fault("pump_off", False)
    return stuck


def pump_off(plant: PoolPlant) -> bool:
    return plant.signals()["flow"] is False and number(plant, "pump_w") == 0.0


def frozen(name: str) -> Callable[[PoolPlant], bool]:
    def check(plant: PoolPlant) -> bool:
        first = plant.signals()[name]
        plant.add_by_hand("acid_31_ml", 1000.0)
        seen = set()
        for _ in range(30):
            plant.advance(60.0, {})
            seen.add(plant.signals()[name])
        return seen == {first}

    return check


def orp_dead(plant: PoolPlant) -> bool:
    return abs(number(plant, "orp_mv")) < 20.0


def orp_drift(plant: PoolPlant) -> bool:
    before = number(plant, "orp_mv")
    plant.advance(12 * 3600.0 - 60.0, {})
    twin = running()
    twin.advance(12 * 3600.0 - 60.0, {})
    return before > 600.0 and number(twin, "orp_mv") - number(plant, "orp_mv") == pytest.approx(20.0, abs=0.5)


def orp_wanders(plant: PoolPlant) -> bool:
    seen = [number(plant, "orp_mv")]
    plant.add_by_hand("hypochlorite_125_g_l_ml", 12000.0)
    for _ in range(12):
        plant.advance(3600.0, {})
        seen.append(number(plant, "orp_mv"))
    moves = [abs(b - a) for a, b in pairwise(seen)]
    return max(seen) - min(seen) < 20.0 and sum(move > 0.5 for move in moves) > 6


def ph_drift(plant: PoolPlant) -> bool:
    twin = running()
    for one in (plant, twin):
        one.advance(24 * 3600.0, {})
    return number(plant, "ph") - number(twin, "ph") == pytest.approx(0.05, abs=0.011)


def orp_fouled(plant: PoolPlant) -> bool:
    twin = running()
    for one in (plant, twin):
        one.add_by_hand("hypochlorite_125_g_l_ml", 2000.0)
        one.advance(3600.0, {})
    return number(plant, "orp_mv") > number(twin, "orp_mv") + 10.0  # less slope below 1 mg/L of HOCl reads high


def cell_scaled(plant: PoolPlant) -> bool:
    plant.advance(360.0, {"cell": 1.0})
    return 1.0 < number(plant, "cell_a") < 4.0 and 0.6 < fed_g(plant) < 0.8


def strength(feeder: str, low_g: float, high_g: float) -> Callable[[PoolPlant], bool]:
    def check(plant: PoolPlant) -> bool:
        plant.advance(60.0, {feeder: 1.0})
        return low_g < fed_g(plant) < high_g

    return check


def heat_wave(plant: PoolPlant) -> bool:
    twin = running()
    for one in (plant, twin):
        one.advance(2 * 86400.0, {})
    return plant.truth().temp_c > twin.truth().temp_c + 2.0


def ph_dead(plant: PoolPlant) -> bool:
    return abs(number(plant, "ph") - 7.0) < 0.05


def probes_swapped(plant: PoolPlant) -> bool:
    return -6.0 < number(plant, "ph") < -3.5 and -60.0 < number(plant, "orp_mv") < 0.0


def sample_line_shut(plant: PoolPlant) -> bool:
    before = number(plant, "orp_mv")
    plant.advance(4 * 3600.0, {})
    return plant.signals()["flow"] is True and number(plant, "orp_mv") < before - 15.0


def stuck_on(signal: str) -> Callable[[PoolPlant], bool]:
    return lambda plant: number(plant, signal) > 0.5


def fed_g(plant: PoolPlant) -> float:
    return plant.truth().fed_acid_g + plant.truth().fed_chlorine_g


def dead(feeder: str, signal: str) -> Callable[[PoolPlant], bool]:
    def check(plant: PoolPlant) -> bool:
        plant.advance(60.0, {feeder: 1.0})
        return number(plant, signal) == 0.0 and fed_g(plant) == 0.0

    return check


def empty(feeder: str) -> Callable[[PoolPlant], bool]:
    def check(plant: PoolPlant) -> bool:
        plant.advance(60.0, {feeder: 1.0})
        turns = plant.signals()[f"{feeder}_running"] is True
        return turns and number(plant, f"{feeder}_percent") == 0.0 and fed_g(plant) == 0.0

    return check


def siphon_acid(plant: PoolPlant) -> bool:
    level, ph = number(plant, "acid_percent"), plant.truth().ph
    plant.advance(1800.0, {})
    off = plant.signals()["acid_running"] is False
    return off and number(plant, "acid_percent") < level - 3.0 and plant.truth().ph < ph - 0.1


def node_reboot(plant: PoolPlant) -> bool:
    plant.advance(0.0, {"cell": 1.0})
    down = number(plant, "cell_a") == 0.0
    plant.advance(2.0, {"cell": 1.0})
    plant.advance(1.0, {"cell": 1.0})
    return down and number(plant, "cell_a") > 0.0


def silent(*names: str) -> Callable[[PoolPlant], bool]:
    return lambda plant: not set(names) & set(plant.signals())


def algae(plant: PoolPlant) -> bool:
    plant.advance(60.0, {})
    twin = running()
    twin.advance(60.0, {})
    return 3.0 < plant.truth().loss_mg_l_day - twin.truth().loss_mg_l_day < 5.5


def tablet_left_in(plant: PoolPlant) -> bool:
    before = plant.truth()
    plant.advance(6 * 3600.0, {})
    twin = running()
    twin.advance(6 * 3600.0, {})
    more = plant.truth().free_chlorine_mg_l - twin.truth().free_chlorine_mg_l
    return 0.25 < more < 0.45 and plant.truth().cya_mg_l > before.cya_mg_l and plant.truth().fed_chlorine_g == 0.0


def cover_closed(plant: PoolPlant) -> bool:
    plant.advance(60.0, {})
    twin = running()
    twin.advance(60.0, {})
    return plant.signals()["cover_closed"] is True and plant.truth().loss_mg_l_day < 0.6 * twin.truth().loss_mg_l_day


def cold_snap(plant: PoolPlant) -> bool:
    twin = running()
    for one in (plant, twin):
        one.advance(2 * 86400.0, {})
    return plant.truth().temp_c < twin.truth().temp_c - 5.0


CHECKS: dict[str, Callable[[PoolPlant], bool]] = {
    "flow_lost": flow_lost,
    "flow_blink": flow_blink,
    "flow_switch_stuck_on": flow_switch_stuck_on,
    "pump_off": pump_off,
    "orp_stuck": frozen("orp_mv"),
    "orp_dead": orp_dead,
    "orp_drift": orp_drift,
    "ph_stuck": frozen("ph"),
    "ph_dead": ph_dead,
    "probes_swapped": probes_swapped,
    "sample_line_shut": sample_line_shut,
    "acid_feeder_stuck_on": stuck_on("acid_running"),
    "chlorine_feeder_stuck_on": stuck_on("hypo_running"),
    "acid_feeder_dead": dead("acid", "acid_running"),
    "chlorine_feeder_dead": dead("hypo", "hypo_running"),
    "acid_container_empty": empty("acid"),
    "chlorine_container_empty": empty("hypo"),
    "orp_wanders": orp_wanders,
    "ph_drift": ph_drift,
    "orp_fouled": orp_fouled,
    "cell_scaled": cell_scaled,
    "acid_too_strong": strength("acid", 8.8, 9.8),
    "chlorine_too_weak": strength("hypo", 0.4, 0.6),
    "chlorine_too_strong": strength("hypo", 2.3, 2.7),
    "heat_wave": heat_wave,
    "siphon_acid": siphon_acid,
    "probes_silent": silent("orp_mv", "ph", "temp_c"),
    "load_silent": silent("cell_a", "acid_running"),
    "pump_room_silent": silent("flow", "pump_w", "cell_a", "acid_running"),
    "node_reboot": node_reboot,
    "algae": algae,
    "tablet_left_in": tablet_left_in,
    "cover_closed": cover_closed,
    "cold_snap": cold_snap,
}
# These show in messages only; tests/rehearsal/test_nodes.py holds theirs.
IN_MESSAGES = {
    "node_silent",
    "probes_clock_behind",
    "clock_jump",
    "retained_replay",
    "messages_repeated",
    "messages_garbled",
    "second_controller",
}


@pytest.mark.parametrize("name", sorted(CHECKS))
def test_a_fault_does_what_it_says(name: str) -> None:
    hypochlorite = name.startswith("chlorine_")
    plant = running(hypochlorite=hypochlorite)
    assert not (name not in ("node_reboot",) and CHECKS[name](running(hypochlorite=hypochlorite)))
    plant.set_fault(name, True)
    assert CHECKS[name](plant), FAULTS[name].text


@pytest.mark.parametrize("name", sorted(FAULTS))
def test_an_ended_fault_is_gone(name: str) -> None:
    plant, twin = running(), running()
    plant.set_fault(name, True)
    plant.set_fault(name, False)
    for one in (plant, twin):
        one.advance(60.0, {"cell": 1.0})
        one.advance(60.0, {"cell": 1.0})
    assert plant.faults == ()
    assert plant.signals() == twin.signals()


def test_every_fault_has_a_check_and_a_sentence() -> None:
    assert set(CHECKS) | IN_MESSAGES == set(FAULTS)
    for fault in FAULTS.values():
        assert fault.text.endswith(".")


def test_an_unknown_fault_is_refused_with_the_known_names() -> None:
    with pytest.raises(KeyError, match="flow_lost"):
        a_plant().set_fault("gremlins", True)


def test_faults_add_up() -> None:
    plant = a_plant(start=datetime(2026, 7, 11, 9, tzinfo=UTC))
    plant.set_fault("ph_dead", True)
    plant.set_fault("orp_dead", True)
    plant.set_fault("ph_dead", False)
    plant.advance(60.0, {})
    assert orp_dead(plant)
    assert not ph_dead(plant)
