"""Hazards of feeding: gas, slugs, feeders that run when they must not or stand when they should not."""

from dosectl.core.interlocks.hazards.hazard import Hazard

_MASS = "tests/interlocks/test_mass_guards.py::"
_FEEDER = "tests/interlocks/test_feeder_guards.py::"
_CHANGE = "tests/interlocks/test_change_unfed.py::"
_FLOW = "tests/interlocks/test_flow_guards.py::"
_GAS = "tests/interlocks/test_flow_gas.py::"
_PEOPLE = "tests/interlocks/test_people_guards.py::"
_PROPERTY = "tests/interlocks/test_guard_properties.py::"
_CAMPAIGN = "tests/closed_loop/test_campaign.py::"
_SYSTEM = "tests/system/"

FEEDING: tuple[Hazard, ...] = (
    Hazard(
        code="acid_meets_hypochlorite",
        title="Acid and hypochlorite meet",
        harms="people: chlorine gas",
        causes="both fed together or back to back, slugs left in a standing line, node or wiring fault",
        reaction="never both granted; the other waits for flow to have passed; both seen running locks both",
        guards=("lockout.spacing", "lockout.both", "mixing.wait"),
        alarms=("feed.both_ran",),
        tests=(
            _MASS + "test_acid_and_chlorine_are_never_both_permitted_while_either_runs_or_is_asked_on",
            _MASS + "test_both_running_for_more_than_half_a_second_locks_both_until_a_person_clears",
            _MASS + "test_the_other_chemical_waits_ten_minutes_of_flow_after_a_pump_and_two_after_a_cell",
            _PROPERTY + "test_acid_and_chlorine_are_never_both_free_while_one_runs_or_may_just_have_run",
            _SYSTEM + "test_feeding.py::test_acid_and_hypochlorite_both_feed_and_never_meet_on_the_wire_or_at_the_node",
        ),
        proof="10 never both",
        left="the wrong product poured into a container",
        wired="outputs wired so that both can't close; labels, keyed fittings, bunds apart",
    ),
    Hazard(
        code="feed_without_flow",
        title="Fed into standing water",
        harms="people: a slug or gas at the restart; the cell fills with hydrogen",
        causes="pump off, closed valve, air lock, flow switch stuck or silent",
        reaction="off at once; a run without flow locks everything until a person restarts with nobody in the water",
        guards=("flow.proven", "flow.settle", "flow.honesty", "flow.gas"),
        alarms=("flow.lost", "flow.unsteady", "flow.evidence_lost", "flow.dishonest", "feed.gas_hold", "feed.dry_unheard"),
        tests=(
            _PROPERTY + "test_flow_unproven_denies_every_feeder_in_that_same_step",
            _GAS + "test_a_pump_fed_into_standing_water_for_more_than_two_seconds_latches_everything",
            _GAS + "test_a_load_that_falls_silent_as_the_water_stops_is_called_once_its_command_is_over",
            _FLOW + "test_a_flow_switch_stuck_at_flow_latches_a_minute_after_the_pump_stops",
            "tests/interlocks/test_latches.py::"
            "test_a_switch_that_has_not_shown_no_flow_with_the_pump_off_since_it_latched_is_not_cleared",
            _FLOW + "test_a_blip_of_flow_between_two_steps_denies_in_that_step",
            _FLOW + "test_feeding_waits_five_minutes_for_fresh_water_at_the_probes",
            _SYSTEM + "test_feeding.py::test_lost_flow_is_answered_in_the_same_step_by_off_on_the_wire_and_at_the_node",
            _CAMPAIGN + "test_a_fault_is_stopped_and_called_in_time",
            _CAMPAIGN + "test_two_faults_at_once_stay_within_the_bounds",
        ),
        proof="3 flow, wired",
        left="both flow signals wrong at once: a switch stuck at flow beside a shut valve, the pump's power over its threshold; "
        "flow and feedback lost together in a feed: up to 10 s of it go on unheard; called, not locked",
        wired="flow contact in series with each feeder; the node's own end of a feed; a power threshold near the pump's usual "
        "draw, under which a shut valve falls (common practice); out of the water before a restart",
    ),
    Hazard(
        code="feed_to_drain",
        title="Fed while water goes to the drain",
        harms="the pool gets nothing and the record says it did; chemical in the drain",
        causes="backwash or waste position of the valve",
        reaction="everything waits until two minutes after the valve is back",
        guards=("water.path",),
        alarms=("feed.chlorine_stopped",),
        tests=(_FEEDER + "test_backwash_holds_feeding_until_two_minutes_after",),
        proof="2 signals",
        left="a valve without a position signal",
        wired="stop feeding by hand before a backwash",
    ),
    Hazard(
        code="feed_in_service",
        title="Fed while somebody works on it",
        harms="people: acid or hypochlorite under somebody's hands",
        causes="no lockout, a command from afar, a restart",
        reaction="all off and latched until the same person ends it at the plant",
        guards=("stop.service", "stop.manual"),
        alarms=("person.service", "person.stop"),
        tests=(
            _PEOPLE + "test_a_stop_by_hand_holds_everything_until_it_is_lifted",
            _PEOPLE + "test_a_local_stop_locks_even_if_it_was_pressed_between_two_steps",
            "tests/requests/test_requests.py::test_service_is_ended_by_who_set_it_or_by_one_who_names_them",
            "tests/requests/test_requests.py::test_nothing_is_dispensed_while_stopped_or_in_service",
        ),
        proof="5 sample flow, level, stop input",
        left="somebody who does not use the isolator",
        wired="wired isolator beside the feeders",
    ),
    Hazard(
        code="relay_welded",
        title="A feeder runs though it is off",
        harms="people and pool: overfeed within the hour",
        causes="welded contact, shorted triac, node that hangs with its output high",
        reaction="OFF is repeated, everything else is held, what runs is booked; critical call",
        guards=("feeder.runs", "feeder.unseen"),
        alarms=("feed.runs_though_off", "feed.unseen", "guards.unable"),
        tests=(
            _FEEDER + "test_a_feeder_that_runs_though_asked_off_locks_everything",
            _FEEDER + "test_nothing_is_fed_while_it_is_not_known_whether_a_feeder_runs",
            "tests/closed_loop/test_faults.py::test_an_acid_feeder_that_sticks_on_is_seen_locked_and_called",
            "tests/interlocks/test_arbiter.py::test_mass_that_runs_unasked_is_booked",
        ),
        proof="8 node expiry",
        left="software can't open a welded contact",
        wired="second switch or a wired timer, flow contact in series, a pump of at most 1.5 mg/L chlorine, 5 acid, an hour",
    ),
    Hazard(
        code="feeder_still",
        title="A feeder stands though it is on, or its container is empty",
        harms="the pool is not treated while the record fills",
        causes="dead pump or tube, no power, empty container, air in the line, tired or scaled cell, too little salt, "
        "stale product",
        reaction="that feeder is stopped and called",
        guards=("feeder.still", "container.level", "cell.power", "salt.level"),
        alarms=(
            "feed.does_not_run",
            "feed.container_empty",
            "feed.container_low",
            "feed.cell_trouble",
            "feed.weak",
            "upkeep.part_worn",
        ),
        tests=(
            "tests/alarms/test_weak.py::test_what_brings_half_of_its_label_for_sure_is_called",
            "tests/alarms/test_wear.py::test_a_part_is_worn_by_its_own_measure_and_new_when_that_is_entered",
            _FEEDER + "test_a_pump_that_stands_still_twice_is_locked_and_one_that_starts_late_once_is_not",
            _FEEDER + "test_an_empty_container_stops_its_feeder_after_ten_seconds_until_it_is_refilled",
            _FEEDER + "test_salt_out_of_bounds_stops_the_cell",
            _FEEDER + "test_a_cell_out_of_its_current_or_voltage_rests_and_the_third_time_in_a_day_is_locked",
        ),
        proof="7 feeder rate",
        left="a pump that turns and moves nothing, until the water shows it",
        wired="level switch in each container",
    ),
    Hazard(
        code="siphon",
        title="Chemical runs in by itself",
        harms="people and pool: a whole container at once",
        causes="injection valve stuck open, container above the injection point",
        reaction="a fall of level or pH with nothing fed stops everything; critical call",
        guards=("change.unfed",),
        alarms=("feed.siphon",),
        tests=(
            _CHANGE + "test_a_container_that_falls_with_its_feeder_off_stops_everything",
            _CHANGE + "test_a_container_that_falls_faster_than_it_is_fed_stops_everything_while_it_is_fed_too",
            _CHANGE + "test_a_reading_that_moves_with_nothing_fed_holds_feeding_four_hours",
            _CAMPAIGN + "test_a_fault_is_stopped_and_called_in_time",
        ),
        proof="11 anti-siphon",
        left="all of it: software can only notice and call",
        wired="anti-siphon valve, container below the injection point and of no more than 30 % of the alkalinity",
    ),
    Hazard(
        code="unproven_installation",
        title="Fed by wrong settings or wiring that nobody tried",
        harms="people and pool",
        causes="volume, strength or rate typed wrong, unit mistaken, feeders crossed, changed file",
        reaction="nothing is fed before a proof that fits the settings and the node, nor after a change before it is confirmed",
        guards=("proof.gate", "config.confirm", "dispense.limit"),
        alarms=("plan.waiting", "plan.proof_due"),
        tests=(
            _PEOPLE + "test_a_proof_record_that_does_not_fit_feeds_nothing",
            _PEOPLE + "test_changed_settings_are_held_until_confirmed_and_ten_minutes_more",
            _PEOPLE + "test_dispensing_ends_after_a_minutes_worth_and_is_refused_the_fourth_time_in_an_hour",
            "tests/settings/test_digest.py::test_a_wrong_volume_is_told_as_what_it_does_and_needs_a_person",
            "tests/settings/test_findings.py::test_what_is_no_number_in_range_is_refused",
        ),
        proof="1 settings",
        left="a plausible wrong figure that somebody confirms",
        wired="commissioning with water, by drawdown",
    ),
)
