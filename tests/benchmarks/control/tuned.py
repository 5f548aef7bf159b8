"""What `python -m tests.benchmarks.control.tune` chose for each way, with the share of hours it left out of the band there."""

from tests.benchmarks.control.ways import Tuning

TUNED: dict[str, Tuning] = {
    "fixed dose": Tuning(),
    "timer": Tuning(gain=0.8),
    "orp on/off": Tuning(set_mv=650.0),  # 60.0 %
    "orp on/off trimmed": Tuning(set_mv=650.0, slope=55.0),  # 39.2 %
    "orp pi trimmed": Tuning(gain=0.01, integral=0.001, slope=50.0, share=0.75),  # 14.1 %
}
