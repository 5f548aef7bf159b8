"""Settings of the probe room: how long a reading must be good again, and when messages raise doubt."""

from dataclasses import dataclass

from dosectl.model.ranges import setting


@dataclass(frozen=True, slots=True)
class ProbeParams:
    """Proving times and message limits, the same for every signal. What is plausible for a kind stands in that kind's file."""

    prove_s: float = setting(
        300.0, ge=60.0, le=3600.0, unit="s", why="a probe that was wrong must be right for 5 min; proposed engineering judgement"
    )
    prove_long_s: float = setting(
        3600.0, ge=300.0, le=21600.0, unit="s", why="after repeated faults in a day an hour; proposed engineering judgement"
    )
    faults_a_day_max: int = setting(4, ge=2, le=20, unit="1", why="the fault in 24 h from which proving takes the long time")
    step_window_s: float = setting(60.0, ge=10.0, le=600.0, unit="s", why="water of a pool cannot jump within a minute")
    future_s_max: float = setting(5.0, ge=1.0, le=60.0, unit="s", why="clocks kept by network time agree far closer than this")
    doubtful_messages: int = setting(10, ge=3, le=100, unit="1", why="one bad message is noise, ten in ten minutes are a fault")
    doubt_s: float = setting(600.0, ge=60.0, le=3600.0, unit="s", why="window for the count, and how long it must then be clean")
    rate_factor_max: float = setting(
        5.0, ge=2.0, le=50.0, unit="1", why="above five times the expected rate the source runs away"
    )
    flat_s: float = setting(
        86400.0,
        ge=21600.0,
        le=604800.0,
        unit="s",
        why="a day holds sun, night and pump stops; a value that repeats exactly through it deserves a look",
    )
