"""Samples in, calibrated and unfiltered readings with a status out; nothing old, doubled or impossible is believed."""

from dosectl.core.probes.intake import REASONS, Judged, update
from dosectl.core.probes.memory import ProbeMemory
from dosectl.core.probes.params import ProbeParams
from dosectl.core.probes.registry import KINDS

__all__ = ["KINDS", "REASONS", "Judged", "ProbeMemory", "ProbeParams", "update"]
