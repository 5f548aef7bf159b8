"""Mutants that change nothing that a pool or a person could notice, each with the reason. A stale name is an error."""

_NO_VALUE = "a reading worse than OUT_OF_SPEC bears no value at all (model/signals.py), so no more readings pass"

_A_SWITCH = "a switch's sample is true or false (bus/decode.py); there is no third value to be taken for one"

_SHORT_CUT = "a short cut for a probe that moved since the last start: the long way gives the same verdict and memory"

EQUIVALENT: dict[str, str] = {
    "cell_power:unknown:Status.OUT_OF_SPEC": _NO_VALUE,
    "change_unfed:unknown:Status.OUT_OF_SPEC": _NO_VALUE,
    "cold_water:unknown:Status.OUT_OF_SPEC": _NO_VALUE,
    "cover_closed:unknown:Status.OUT_OF_SPEC": _NO_VALUE,
    "container_level:unknown:Status.OUT_OF_SPEC": _NO_VALUE,
    "probe_agreement:unknown:Status.OUT_OF_SPEC": _NO_VALUE,
    "probe_agreement:unknown:Status.OUT_OF_SPEC #2": _NO_VALUE,
    "probe_liveness:unknown:Status.OUT_OF_SPEC": _NO_VALUE,
    "probe_liveness:flip:memory.marks[1] > 0.0": _SHORT_CUT,
    "probe_liveness:flip:memory.count < STARTS_MAX #2": _SHORT_CUT,
    "stop_service:unknown:sample.raw is True": _A_SWITCH,
    "water_path:unknown:sample.raw is False": _A_SWITCH,
    "lockout_both:flip:len({group for _, group in grouped}) < 2": "with one group it is a guard that can never see two",
    "salt_level:unknown:Status.OUT_OF_SPEC": _NO_VALUE,
    "swing:unknown:Status.OUT_OF_SPEC": _NO_VALUE,
}
