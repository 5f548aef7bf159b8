"""Rehearsals: the simulated pool joined with the step, in one process or over MQTT."""
