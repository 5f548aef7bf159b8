"""Hazards of what is measured: probes and messages that lie."""

from dosectl.core.interlocks.hazards.hazard import Hazard

_BLIND = "tests/interlocks/test_fallback_rate.py::"
_PROBE = "tests/interlocks/test_probe_guards.py::"
_PROPERTY = "tests/interlocks/test_guard_properties.py::"
_MACHINE = "tests/interlocks/test_machine_guards.py::"
_GLASS = "tests/interlocks/test_probe_glass.py::"
_FEEDER = "tests/interlocks/test_feeder_guards.py::"
_LOOP = "tests/closed_loop/test_faults.py::test_a_fault_is_met_and_its_end_lets_the_pool_live"

PROBES: tuple[Hazard, ...] = (
    Hazard(
        code="probe_lost",
        title="A probe is broken, out of range or silent",
        harms="bathers: too much or too little",
        causes="cut cable, broken glass, dead node, plugs swapped",
        reaction="acid holds without a pH, chlorine falls back to a share of usual use",
        guards=("probe.orp", "probe.ph", "probe.glass"),
        alarms=("probe.failure", "water.fallback", "water.unsure"),
        tests=(
            _GLASS + "test_glass_that_breaks_at_night_is_doubted_within_ten_minutes_of_the_next_flow",
            _GLASS + "test_glass_that_breaks_just_after_a_restart_is_set_against_what_was_believed_before_it",
            _BLIND + "test_a_lost_reading_holds_chlorine_at_sixty_percent_of_usual_use",
            _PROBE + "test_without_ph_acid_is_never_fed",
            _PROPERTY + "test_a_ph_that_is_not_good_never_permits_acid",
            _PROPERTY + "test_replacing_a_reading_by_unknown_never_permits_more",
            _LOOP,
        ),
        proof="6 probes",
        left="two like probes swapped: both read plausibly; glass that breaks in water whose pH is near 7 anyway",
        wired="each shown under its own name at commissioning",
    ),
    Hazard(
        code="probe_isolated",
        title="The probes get no fresh water",
        harms="bathers: too much or too little",
        causes="sample valve shut, blocked filter, drained cell",
        reaction="as a lost reading; without a sample-flow switch by the value that no longer moves",
        guards=("probe.sample", "probe.liveness"),
        alarms=("probe.sample_flow", "probe.still"),
        tests=(
            _PROBE + "test_lost_sample_flow_stops_acid_after_half_a_minute_and_settles_before_it_returns",
            _PROBE + "test_a_value_that_does_not_move_over_two_pump_starts_is_doubted_until_it_moves_again",
        ),
        proof="5 sample flow, level, stop input",
        left="a slow leak into the cell, and a shut valve where no switch is fitted until the water moves",
        wired="sample-flow switch; hand test each week",
    ),
    Hazard(
        code="probe_stuck",
        title="A reading repeats a plausible value",
        harms="bathers: a controller that asks for chlorine, or acid, for ever",
        causes="frozen converter, dead publisher, fouled or dead electrode, drift",
        reaction="judged by pump starts, by feeds and by the days' swing; chlorine cut, acid held",
        guards=("probe.liveness", "probe.agreement", "chlorine.response", "acid.response"),
        alarms=(
            "probe.still",
            "probe.disagree",
            "probe.calibration_due",
            "feed.no_response",
            "water.test_due",
            "water.test_differs",
            "probe.unfed_days",
        ),
        tests=(
            _PROBE + "test_a_value_that_does_not_move_over_two_pump_starts_is_doubted_until_it_moves_again",
            _PROBE + "test_a_quiet_but_living_probe_is_never_doubted",
            _PROBE + "test_two_orp_probes_apart_put_chlorine_on_the_fall_back_rate",
            _FEEDER + "test_an_electrode_that_moves_neither_way_over_a_day_of_flow_cuts_chlorine_until_a_hand_test",
            "tests/closed_loop/test_unanswering_orp.py::"
            "test_a_stuck_electrode_is_not_followed_while_its_trip_stands_and_the_pool_is_not_emptied",
            "tests/alarms/test_unfed.py::test_three_days_without_a_feed_are_told",
            "tests/closed_loop/test_electrode_jumps.py::"
            "test_a_fouled_electrode_does_not_leave_the_pool_dead_while_nobody_is_there",
            "tests/alarms/test_people.py::test_a_test_that_both_errors_together_do_not_explain_is_an_alarm_until_a_newer_one_agrees",
            "tests/probes/test_intake.py::test_a_value_that_repeats_exactly_for_a_day_asks_for_a_look",
        ),
        proof="6 probes",
        left="a slow drift within bounds, weeks without an answer in a cold or covered pool",
        wired="second probe, hand test",
    ),
    Hazard(
        code="signal_silent",
        title="A fitted signal falls silent for good",
        harms="plant: a cell in cold or saltless water; pool: an empty container, a cover that nobody sees",
        causes="battery, cable, radio, a bridge that lost a device, a topic that was renamed",
        reaction="what was heard last holds for as long as the quantity needs to change, then counts as bad; it is called",
        guards=("cold.water", "salt.level", "container.level", "cover.closed"),
        alarms=("probe.signal_silent", "probe.sunlight_dark"),
        tests=(
            "tests/interlocks/test_silent_signals.py::"
            "test_after_weeks_no_combination_of_unknown_evidence_permits_more_than_evidence_known_to_be_bad",
            "tests/interlocks/test_silent_signals.py::test_the_last_good_side_holds_for_as_long_as_the_quantity_needs_to_change",
            "tests/closed_loop/test_silent_signals.py::test_a_fitted_signal_that_falls_silent_is_called_within_the_hour",
            "tests/closed_loop/test_silent_signals.py::test_a_second_signal_that_falls_silent_is_called_by_its_own_name",
            "tests/closed_loop/test_silent_signals.py::"
            "test_a_sunlight_sensor_that_is_dark_by_day_is_called_until_it_speaks_and_one_under_clouds_is_not",
        ),
        proof="2 signals",
        left="a sensor that goes on saying what it said",
        wired="test salt by hand before leaving; look at the containers",
    ),
    Hazard(
        code="messages_disordered",
        title="Old, doubled or reordered messages",
        harms="bathers: fed on the water of another hour",
        causes="retained readings, bridges, reconnects, a node's clock that is wrong",
        reaction="dropped and counted; ten in ten minutes count as a lost reading",
        guards=("messages.order",),
        alarms=("messages.doubt",),
        tests=(
            _MACHINE + "test_ten_disordered_messages_of_the_flow_switch_stop_everything_for_ten_minutes",
            _MACHINE + "test_disorder_of_ph_stops_acid_and_puts_chlorine_on_the_fall_back_rate",
            "tests/probes/test_intake.py::test_a_message_out_of_order_is_dropped_and_changes_nothing",
            "tests/closed_loop/test_step_sequences.py::"
            "test_whatever_comes_limits_hold_over_any_window_and_the_two_chemicals_never_run_together",
        ),
        proof="9 stale commands",
        left="a source without sequence and time",
        wired="sources that send both",
    ),
)
