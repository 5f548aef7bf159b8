"""Hazards of the water itself: too much or too little in it."""

from dosectl.core.interlocks.hazards.hazard import Hazard

_MASS = "tests/interlocks/test_mass_guards.py::"
_FEEDER = "tests/interlocks/test_feeder_guards.py::"
_PROBE = "tests/interlocks/test_probe_guards.py::"
_KIT = "tests/interlocks/test_kit_contradicted.py::"
_LEDGER = "tests/interlocks/test_kit_and_ledger.py::"
_ACID = "tests/interlocks/test_acid_response.py::"
_WATER = "tests/interlocks/test_acid_budget_in_water.py::"
_BOTH = "tests/interlocks/test_kit_and_electrode.py::"
_LATCH = "tests/interlocks/test_latches.py::"
_CAMPAIGN = "tests/closed_loop/test_campaign.py::"

WATER: tuple[Hazard, ...] = (
    Hazard(
        code="overchlorination",
        title="Too much chlorine",
        harms="bathers in harmful water; liner and metal",
        causes="probe or test kit that reads low, wrong volume or strength, tablets left in, dosed by hand, demand that ended",
        reaction="shortened, cut to a share of usual use, or stopped at the high limit; latched on mass without an answer",
        guards=(
            "mass.single",
            "mass.hour",
            "mass.day",
            "mass.learned",
            "chlorine.response",
            "response.wrong_way",
            "high.orp",
            "high.chlorine",
            "high.tested",
            "cover.closed",
            "change.unfed",
            "test.contradicted",
        ),
        alarms=(
            "feed.learned_use",
            "feed.daily_limit",
            "feed.no_response",
            "water.chlorine_very_high",
            "water.chlorine_tested",
            "water.chlorine_unexplained",
            "water.orp_high",
            "water.orp_rise",
            "water.test_contradicted",
        ),
        tests=(
            _KIT + "test_a_test_that_claims_a_fall_which_the_orp_does_not_show_opens_nothing_and_holds_chlorine",
            "tests/closed_loop/test_spoiled_kit.py::test_a_kit_that_finds_nothing_does_not_drive_a_pool_with_a_sound_electrode_over_ten",
            "tests/interlocks/test_high_tested.py::test_after_a_test_above_the_limit_nothing_is_fed_for_a_day_and_then_twice_the_usual",
            _MASS + "test_a_silent_probe_is_held_to_half_again_the_usual_day_and_latched_by_three_days",
            _MASS + "test_twice_the_usual_for_three_days_is_cut_to_sixty_percent_for_three_days_even_on_an_answering_probe",
            _MASS + "test_the_daily_limit_knows_usual_use_and_names_what_binds",
            _FEEDER + "test_an_electrode_that_moves_neither_way_over_a_day_of_flow_cuts_chlorine_until_a_hand_test",
            _LEDGER + "test_a_contradicted_test_lets_be_fed_what_the_water_took_before_kit_and_electrode_parted",
            _LEDGER + "test_a_test_beside_which_nothing_was_read_opens_nothing_where_others_could_be_set_against_it",
            _LEDGER + "test_an_orp_that_has_not_risen_from_near_the_upper_limit_gives_no_more",
            _BOTH + "test_a_mere_check_of_the_electrode_does_not_let_a_spoiled_kit_open_the_day",
            _BOTH + "test_what_is_said_again_or_mended_late_or_by_another_kit_was_no_slip",
            _KIT + "test_the_orp_since_says_whether_usual_use_holds_or_less_or_more",
            _LATCH + "test_an_electrode_without_an_answer_is_never_cleared_by_a_person_and_a_calm_guard_withholds_nothing",
            "tests/interlocks/test_healthy_weeks.py::"
            "test_a_stuck_low_probe_that_asks_for_all_is_bounded_within_three_weeks_of_small_losses",
            "tests/closed_loop/test_faults.py::test_a_tablet_left_in_the_skimmer_is_not_fed_against",
            "tests/closed_loop/test_faults.py::test_a_closed_cover_with_the_old_demand_does_not_overdose",
        ),
        proof="6 probes",
        left="a probe that reads low and still answers, where usual use is high and losses then fall: a slow climb; a kit "
        "that says the same little each week for many weeks",
        wired="hand test of free chlorine each week and before leaving; a second probe or a free-chlorine cell",
    ),
    Hazard(
        code="underchlorination",
        title="Too little chlorine",
        harms="bathers in water that is not disinfected",
        causes="any stop, empty container, tired cell, cold, too few pump hours, algae",
        reaction="no feed is forced; the age of the stop raises the alarm; a lost reading falls back instead of stopping",
        guards=("container.level", "feeder.still", "probe.orp"),
        alarms=(
            "water.chlorine_gone",
            "water.chlorine_low",
            "water.fallback",
            "feed.chlorine_stopped",
            "pump.hours_short",
            "water.test_due",
            "feed.container_low",
            "feed.cover_held",
        ),
        tests=(
            "tests/closed_loop/test_spoiled_kit.py::test_one_slip_of_an_owner_who_then_leaves_does_not_starve_a_healthy_pool",
            "tests/closed_loop/test_drifting_electrode.py::"
            "test_honest_tests_that_a_drifting_electrode_contradicts_do_not_starve_the_pool",
            _LEDGER + "test_a_kit_that_is_seen_to_go_the_way_of_the_orp_is_fresh_again",
            "tests/closed_loop/test_unanswering_orp.py::test_an_electrode_that_is_mute_contradicts_no_honest_test",
            _LATCH + "test_a_mute_electrode_that_moves_again_is_heard_by_a_pump_that_runs_half_an_hour_at_a_time",
            _LATCH + "test_a_new_electrode_entered_since_the_latch_ends_it_and_has_to_be_found_mute_anew",
            _BOTH + "test_a_slip_that_the_same_kit_mended_at_once_does_not_close_the_day_for_a_fortnight",
            _BOTH + "test_an_electrode_that_a_check_lifted_lets_an_honest_test_open_the_day",
            "tests/controller/test_beside.py::test_a_test_typed_late_gets_what_the_probes_showed_when_the_water_was_taken",
            "tests/closed_loop/test_faults.py::test_a_fault_is_met_and_its_end_lets_the_pool_live",
            "tests/closed_loop/test_covered.py::test_a_healthy_pool_that_lies_covered_keeps_its_chlorine",
            "tests/closed_loop/test_healthy_weeks.py::test_three_july_weeks_at_home",
            "tests/closed_loop/test_healthy_weeks.py::test_a_controller_that_never_feeds_would_fail_the_same_bounds",
            "tests/closed_loop/test_healthy_weeks.py::test_a_pool_whose_feeder_is_too_small_is_called_out_and_not_silently_lost",
            _CAMPAIGN + "test_after_a_fault_it_feeds_again",
        ),
        proof="12 alarm",
        left="nobody comes: no controller can refill, repair or close a pool",
        wired="a neighbour on the call list, a notice not to swim",
    ),
    Hazard(
        code="acid_overfeed",
        title="Too much acid",
        harms="skin and eyes; metal, heater, plaster",
        causes="pH probe that reads high, low alkalinity, acid stronger than typed, welded relay, siphon",
        reaction="acid is stopped, and latched where it was fed without an answer or past its budget; chlorine may run on",
        guards=("low.ph", "acid.budget", "acid.response", "response.wrong_way", "mass.single", "mass.hour", "mass.day"),
        alarms=(
            "feed.acid_budget_low",
            "feed.acid_budget_spent",
            "feed.acid_overfed",
            "feed.no_response",
            "water.ph_very_low",
        ),
        tests=(
            _PROBE + "test_ph_far_below_with_acid_fed_lately_locks_acid_and_without_it_does_not",
            _MASS + "test_acid_is_nearly_stopped_at_a_third_of_the_alkalinity_and_latched_near_half",
            _WATER + "test_an_electrode_that_drifts_up_from_an_honest_test_on_does_not_take_the_water_below_6_5",
            "tests/closed_loop/test_untested_alkalinity.py::test_a_pool_whose_alkalinity_nobody_tests_keeps_its_ph",
            _FEEDER + "test_acid_that_brings_no_fall_is_locked_after_five_milligrams",
            _ACID + "test_dead_acid_is_locked_within_two_days_of_use_whatever_the_pool_does_by_itself",
            _LATCH + "test_acid_without_response_is_cleared_only_after_a_test_of_the_ph_since_it_latched",
            _ACID + "test_a_pool_whose_acid_is_held_off_by_outgassing_is_not_locked",
            _FEEDER + "test_ph_that_rises_after_three_of_four_acid_feeds_locks_acid_and_outgassing_does_not",
        ),
        proof="7 feeder rate",
        left="acid that runs or siphons past every command",
        wired="a container of no more than 30 % of the alkalinity, a pump of at most 5 mg/L an hour, anti-siphon valve",
    ),
    Hazard(
        code="ph_high",
        title="pH rises, scale forms",
        harms="cell and heater; chlorine works more slowly",
        causes="acid stopped or empty, outgassing, high alkalinity",
        reaction="chlorine is held near usual use above 8.2 and stops for a day above 8.8; the stop of acid is called by its age",
        guards=("high.ph",),
        alarms=("water.ph_high", "feed.acid_stopped", "feed.container_empty"),
        tests=(
            _PROBE + "test_a_high_ph_alone_slows_chlorine_and_does_not_stop_it",
            "tests/interlocks/test_high_ph.py::"
            "test_a_ph_seen_far_too_high_and_then_lost_stops_chlorine_for_a_day_only_and_far_too_low_for_good",
            "tests/closed_loop/test_failing_ph.py::"
            "test_a_ph_probe_that_reads_nine_for_two_days_and_then_fails_leaves_the_pool_some_chlorine",
        ),
        proof="6 probes",
        left="nothing brings the pH down without acid",
        wired="a refill visit",
    ),
    Hazard(
        code="cold",
        title="Fed into cold or freezing water",
        harms="cell; chlorine lasts long in the cold",
        causes="season's end, cold spell, pump that runs against frost",
        reaction="the cell rests below 12 degC, everything below 4 degC",
        guards=("cold.water",),
        alarms=("water.cold_for_cell", "water.freeze"),
        tests=(
            _FEEDER + "test_cold_water_rests_the_feeder_until_it_is_warmer_for_half_an_hour",
            _FEEDER + "test_a_temperature_never_read_holds_and_one_lost_after_warm_water_does_not_starve_the_pool",
        ),
        proof="2 signals",
        left="pipes that freeze",
        wired="frost protection of the pump's own timer",
    ),
)
