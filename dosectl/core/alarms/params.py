"""Settings of the alarm room."""

from dataclasses import dataclass

from dosectl.model.ranges import setting


@dataclass(frozen=True, slots=True)
class AlarmParams:
    """What an owner may set about alarms. Delays and priorities stand in the catalogue: they follow from the consequence."""

    test_due_days: float = setting(
        7.0, ge=1.0, le=31.0, unit="d", why="common practice: free chlorine and pH by hand once a week; it finds slow drift"
    )
    container_low_percent: float = setting(20.0, ge=5.0, le=50.0, unit="%", why="time left to buy and fill; proposed judgement")
    self_answer_h: float = setting(24.0, ge=1.0, le=168.0, unit="h", why="a low alarm that went away by itself leaves the list")
    proof_due_days: float = setting(
        400.0, ge=30.0, le=800.0, unit="d", why="a proof test once a season, with a month to spare; common practice: yearly"
    )
