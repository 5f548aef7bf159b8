"""Settings of the alarm room."""

from dataclasses import dataclass

from dosectl.model.ranges import setting


@dataclass(frozen=True, slots=True)
class AlarmParams:
    """What an owner may set about alarms. Delays and priorities stand in the catalogue: they follow from the consequence."""

    test_due_days: float = setting(
        7.0,
        ge=1.0,
        le=31.0,
        unit="d",
        why="the longest without a test, common practice; doubt asks earlier, when one is worth the walk",
    )
    container_low_percent: float = setting(20.0, ge=5.0, le=50.0, unit="%", why="time left to buy and fill; proposed judgement")
    self_answer_h: float = setting(24.0, ge=1.0, le=168.0, unit="h", why="a low alarm that went away by itself leaves the list")
    proof_due_days: float = setting(
        400.0, ge=30.0, le=800.0, unit="d", why="a proof test once a season, with a month to spare; common practice: yearly"
    )
    tube_hours: float = setting(
        500.0, ge=50.0, le=10000.0, unit="h", why="a pump's tube at full output; common practice, its label says more"
    )
    cell_hours: float = setting(
        8000.0, ge=500.0, le=30000.0, unit="h", why="a cell at full output; common practice 5000 to 10000, its label says more"
    )
    probe_days: float = setting(540.0, ge=60.0, le=2000.0, unit="d", why="an electrode; common practice one to two years")
