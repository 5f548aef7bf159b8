"""Hazards of the controller itself: process, link, clock, record, other programs, calls that nobody hears."""

from dosectl.core.interlocks.hazards.hazard import Hazard

_MACHINE = "tests/interlocks/test_machine_guards.py::"
_GAP = "tests/interlocks/test_record_gap.py::"
_SYSTEM = "tests/system/"
_SEQUENCES = (
    "tests/closed_loop/test_step_sequences.py::"
    "test_whatever_comes_limits_hold_over_any_window_and_the_two_chemicals_never_run_together"
)

MACHINE: tuple[Hazard, ...] = (
    Hazard(
        code="controller_dead",
        title="The controller hangs or is killed during a feed",
        harms="people and pool: a feed without an end",
        causes="defect, memory, disk, a stopped process, power",
        reaction="the node ends every feed by itself; the start that follows holds, longer each time",
        guards=("start.hold", "queue.age", "run.ending"),
        alarms=("run.unclean_start", "run.restarts", "run.restart_loop", "run.behind", "run.guard_failed"),
        tests=(
            _SYSTEM + "test_wall_clock.py::test_a_daemon_that_stalls_ends_the_feed_at_the_node_and_feeds_nothing_on_waking",
            _SYSTEM + "test_wall_clock.py::test_a_daemon_that_dies_ends_the_feed_at_the_node_and_holds_after_its_start",
            _SYSTEM + "test_stop.py::test_told_to_end_while_feeding_it_says_off_waits_for_the_feedback_and_marks_a_clean_stop",
            _MACHINE + "test_the_hold_after_a_start_grows_with_the_starts_of_the_hour",
            _MACHINE + "test_old_or_dropped_messages_hold_feeding",
            "tests/crash/test_kills.py::test_no_kill_at_any_point_of_a_feed_loses_a_gram_or_passes_a_limit",
            "tests/interlocks/test_arbiter.py::test_a_guard_that_raises_denies",
        ),
        proof="8 node expiry",
        left="a node that hangs too, with its output high",
        wired="wired timer or flow contact in series; board watchdog",
    ),
    Hazard(
        code="link_lost",
        title="Broker or network lost, wholly or in one direction",
        harms="pool: nothing is fed; people: an OFF that does not arrive",
        causes="power, update, certificate, radio, half-open connection",
        reaction="no echo, no feed; the node ends what runs; nothing waits in a queue to be fed later",
        guards=("bus.echo", "node.online"),
        alarms=("bus.broker_lost", "node.offline"),
        tests=(
            _MACHINE + "test_a_bus_without_its_echo_is_dead",
            _MACHINE + "test_a_silent_node_feeds_nothing",
            _SYSTEM + "test_wall_clock.py::test_a_broker_that_dies_ends_the_feed_at_the_node_and_brings_no_late_on",
            _SYSTEM + "test_wall_clock.py::test_a_broker_that_stalls_ends_the_feed_at_the_node_and_brings_no_late_on",
            "tests/bus/test_traps.py::test_an_on_asked_for_while_offline_is_refused_and_never_delivered_later",
            "tests/closed_loop/test_campaign.py::test_a_fault_is_stopped_and_called_in_time",
        ),
        proof="8 node expiry",
        left="a pool without feed while the link is away",
        wired="calls over another way than the pool's network",
    ),
    Hazard(
        code="stale_command",
        title="An old ON comes to life",
        harms="people and pool: a feed that nobody decided",
        causes="retain flag, old session, node restart",
        reaction="node and controller refuse it; a retained one is taken away and locks feeding",
        guards=("owner.foreign",),
        alarms=("feed.foreign_command",),
        tests=(
            _SYSTEM + "test_feeding.py::test_a_retained_on_feeds_nothing_is_taken_away_and_locks_feeding",
            _SYSTEM + "test_feeding.py::test_a_rebooted_node_is_never_fed_by_a_command_for_the_boot_before",
        ),
        proof="9 stale commands",
        left="a node whose program does not keep the contract",
        wired="the node is tried at commissioning and after each change of its program",
    ),
    Hazard(
        code="two_controllers",
        title="Two controllers on one feeder",
        harms="pool: fed twice",
        causes="a timer left on, an old installation, a stranger on the broker",
        reaction="a command that is not ours locks everything; the node serves one owner",
        guards=("owner.foreign",),
        alarms=("feed.foreign_command",),
        tests=(
            _MACHINE + "test_a_foreign_command_locks_everything_until_a_person_clears_it",
            _MACHINE + "test_a_node_that_obeys_another_owner_locks_everything_and_a_fresh_one_does_not",
            _SYSTEM + "test_feeding.py::test_a_foreign_command_latches_until_a_person_clears_it",
        ),
        proof="9 stale commands",
        left="a timer wired in parallel; who holds the broker's passwords may do as the controller does",
        wired="look at the wiring; passwords and access list; the node's own hourly cap",
    ),
    Hazard(
        code="clock_wrong",
        title="The clock jumps",
        harms="pool: a limit forgotten or a day fed twice",
        causes="time service, dead clock battery, suspended machine",
        reaction="windows age by a clock of their own; chlorine falls back while the wall clock is in doubt",
        guards=("clock.doubt",),
        alarms=("clock.doubt",),
        tests=(
            _MACHINE + "test_a_clock_jump_holds_only_chlorine_on_the_fall_back_rate_until_fifteen_minutes_are_steady",
            _MACHINE + "test_a_plant_clock_before_its_own_start_stops_everything",
            "tests/controller/test_begin.py::test_off_time_reckoned_from_a_clock_that_was_wrong_before_counts_as_none",
            _SEQUENCES,
        ),
        proof="12 alarm",
        left="nothing that a feed depends on",
        wired="clock battery",
    ),
    Hazard(
        code="record_lost",
        title="The ledger can't be written, or forgets",
        harms="pool: limits over days start anew",
        causes="full or read-only disk, torn file, restart loop; a record deleted, or an old copy put back",
        reaction="debit before dose; what can't be recorded is not fed; a node that knows of later commands shows the gap: "
        "chlorine is spread over a day, acid waits for tests",
        guards=("record.store", "record.gap", "start.hold"),
        alarms=("record.failing", "record.gap", "record.forward_delayed"),
        tests=(
            _GAP + "test_a_node_that_obeyed_later_commands_bounds_chlorine_for_a_day",
            _GAP + "test_acid_waits_for_both_tests_however_long_they_take",
            "tests/closed_loop/test_record_gap.py::test_a_record_that_goes_back_at_each_start_gets_no_days_amount_anew",
            "tests/closed_loop/test_record_gap.py::"
            "test_in_the_day_after_a_gap_nearly_all_of_the_fall_backs_rate_is_fed_and_no_acid",
            _SYSTEM + "test_record_gap.py::test_with_a_new_record_a_node_that_has_run_for_hours_is_called_and_feeds_again",
            _MACHINE + "test_nothing_is_fed_that_can_not_be_recorded",
            _SYSTEM + "test_disk.py::test_a_full_disk_stops_the_feed_raises_an_alarm_and_mends_by_itself",
            "tests/store/test_journal_trouble.py::test_a_torn_tail_of_the_write_ahead_log_loses_only_what_was_never_acknowledged",
            "tests/store/test_journal.py::test_a_reservation_left_open_by_a_crash_is_booked_in_full_and_counts_as_late_as_it_may_have_fed",
            _SEQUENCES,
        ),
        proof="8 node expiry",
        left="a disk that lies about what it keeps; a node that restarted as well, and so knows of no later command; a gap of "
        "fewer commands than a crash may lose",
        wired="the node's own hourly cap; a container of no more than 30 % of the alkalinity",
    ),
    Hazard(
        code="call_not_heard",
        title="An alarm reaches nobody",
        harms="all of the above, unseen",
        causes="dead route, phone off, everyone away",
        reaction="several routes, several persons, repeats; an outside watcher misses us",
        guards=(),
        unguarded="a call is not a feed: where nobody answers for long, feeding goes on within every limit",
        alarms=("calls.failing", "run.adapter_fault", "person.away_alone"),
        tests=(
            "tests/alarms/test_people.py::test_who_is_away_with_one_person_named_is_told_so_and_with_two_is_not",
            "tests/notify/test_caller.py::test_a_route_that_says_yes_and_drops_all_is_not_taken_for_heard",
            "tests/notify/test_caller.py::"
            "test_an_outside_watcher_hears_us_while_steps_are_good_and_alarms_when_they_end_or_an_alarm_stays_unsent",
            "tests/notify/test_caller.py::test_a_kill_between_any_two_steps_loses_no_call_and_calls_nothing_twice_as_new",
        ),
        proof="12 alarm",
        left="everyone away at once",
        wired="a second person; an outside watcher",
    ),
)
