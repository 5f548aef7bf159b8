"""Mutants that change nothing that a pool or a person could notice, each with the reason. A stale name is an error."""

EQUIVALENT: dict[str, str] = {}
