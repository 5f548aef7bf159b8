"""What `tune` chose for each way."""

from tests.benchmarks.control.ways import Tuning

TUNED: dict[str, Tuning] = {}
