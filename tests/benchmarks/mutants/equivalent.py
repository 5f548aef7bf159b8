"""Mutants that change nothing that a pool or a person could notice, each with the reason. A stale name is an error."""

_NO_VALUE = "a reading worse than OUT_OF_SPEC bears no value at all (model/signals.py), so no more readings pass"

EQUIVALENT: dict[str, str] = {
    "cell_power:unknown:Status.OUT_OF_SPEC": _NO_VALUE,
    "change_unfed:unknown:Status.OUT_OF_SPEC": _NO_VALUE,
    "cold_water:unknown:Status.OUT_OF_SPEC": _NO_VALUE,
    "container_level:unknown:Status.OUT_OF_SPEC": _NO_VALUE,
    "probe_agreement:unknown:Status.OUT_OF_SPEC": _NO_VALUE,
    "probe_agreement:unknown:Status.OUT_OF_SPEC #2": _NO_VALUE,
    "probe_liveness:unknown:Status.OUT_OF_SPEC": _NO_VALUE,
    "salt_level:unknown:Status.OUT_OF_SPEC": _NO_VALUE,
}
