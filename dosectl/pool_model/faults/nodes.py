"""Faults of nodes, messages and clocks. The plant's MQTT face carries out those that only messages can show."""

from dosectl.pool_model.faults.upset import Fault, Upset


def _node_silent(upset: Upset) -> None:
    upset.feeder_node_silent = True


def _node_reboot(upset: Upset) -> None:
    upset.feeder_node_rebooting = True


def _probes_silent(upset: Upset) -> None:
    upset.probe_node_silent = True


def _pump_room_silent(upset: Upset) -> None:
    upset.pump_room_node_silent = True


def _load_silent(upset: Upset) -> None:
    upset.load_silent = True


def _probes_clock_behind(upset: Upset) -> None:
    upset.probe_clock_behind_s = 600.0


def _clock_jump(upset: Upset) -> None:
    upset.wall_clock_ahead_s = 3.0 * 3600.0


def _retained_replay(upset: Upset) -> None:
    upset.retained_replay = True


def _probe_messages_repeated(upset: Upset) -> None:
    upset.probe_messages_repeated = True


def _probe_messages_garbled(upset: Upset) -> None:
    upset.probe_messages_garbled = True


def _second_controller(upset: Upset) -> None:
    upset.second_controller = True


FAULTS = (
    Fault("node_silent", "The feeder node neither hears nor speaks; what runs ends by its own expiry.", _node_silent),
    Fault("node_reboot", "The feeder node restarts: all outputs off, a new boot identity, its counter at 0.", _node_reboot, 2.0),
    Fault("probes_silent", "The probe node stops sending.", _probes_silent),
    Fault("pump_room_silent", "The pump room's node stops sending flow, power and feedback.", _pump_room_silent),
    Fault("load_silent", "The meters at the loads of the feeders stop sending.", _load_silent),
    Fault("probes_clock_behind", "The probe node's clock is 10 minutes behind.", _probes_clock_behind),
    Fault("clock_jump", "The wall clock of plant and daemon jumps ahead by 3 hours.", _clock_jump),
    Fault("retained_replay", "The probe node sends its first reading of the run again, retained.", _retained_replay),
    Fault("messages_repeated", "The probe node sends one message again and again, as it was.", _probe_messages_repeated),
    Fault("messages_garbled", "The probe node sends NaN, text and broken JSON.", _probe_messages_garbled),
    Fault("second_controller", "Another controller commands the first feeder every 5 s.", _second_controller),
)
