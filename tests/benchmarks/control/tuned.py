"""What `python -m tests.benchmarks.control.tune` chose for each way, with the share of hours it left out of the band there."""

from tests.benchmarks.control.ways import Tuning

TUNED: dict[str, Tuning] = {
    "fixed dose": Tuning(start=0.3),  # 53.2 %
    "timer": Tuning(gain=0.8, start=0.5),  # 9.6 %
    "orp on/off": Tuning(set_mv=650.0),  # 60.0 %
    "orp on/off trimmed": Tuning(set_mv=650.0, slope=55.0),  # 39.2 %
    "orp pi trimmed": Tuning(gain=0.08, integral=0.003, slope=40.0, set_mv=650.0),  # 34.3 %, the largest gain tried
}
