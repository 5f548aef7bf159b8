"""Telemetry to a line-protocol time-series server: out of the journal by a cursor, in a thread of its own.

The server may be away for weeks; dosing never waits for it.
"""
