"""What is counted of a run: the truth only, by the same rules for every way."""

from dataclasses import dataclass, field

from dosectl.chemistry.chlorine import upper_free_chlorine_limit_mg_l
from dosectl.pool_model.protocol import Truth

BANDS = {"50": 0.6745, "90": 1.6449, "99": 2.5758}
HOCL_LOW_MG_L = 0.010
SHARE, FLOOR_MG_L, CEILING_MG_L = 0.05, 2.0, 7.0


def target_mg_l(cya_mg_l: float) -> float:
    """Free chlorine that the true stabiliser asks for: 5 % of it (common practice for salt-water pools), 2 to 7 mg/L."""
    return min(CEILING_MG_L, max(FLOOR_MG_L, SHARE * cya_mg_l))


@dataclass(slots=True)
class Count:
    """Hours by what the water was; `called_h`: bad hours with an alarm for it standing; `inside`: hours in the stated bands.

    walks : tests of free chlorine and pH that the owner took, the warm-up's too
    days, told : of each day the truth and what was believed, and what happened in words; kept where a job asks for it
    """

    hours: float = 0.0
    low_h: float = 0.0
    high_h: float = 0.0
    dead_h: float = 0.0
    cold_h: float = 0.0
    cold_dead_h: float = 0.0
    over_h: float = 0.0
    ph_out_h: float = 0.0
    called_h: float = 0.0
    chlorine_g: float = 0.0
    starts: int = 0
    latched: int = 0
    dry_s: float = 0.0
    alarms: int = 0
    walks: int = 0
    inside: dict[str, float] = field(default_factory=lambda: dict.fromkeys(BANDS, 0.0))
    days: list[tuple[float, float, float, float, float, float]] = field(default_factory=list)
    told: list[str] = field(default_factory=list)

    @property
    def bad_share(self) -> float:
        """Share of hours under 75 % or over 150 % of the target for the true stabiliser."""
        return (self.low_h + self.high_h) / self.hours if self.hours else 0.0

    def add(self, truth: Truth, step_h: float) -> bool:
        """Counts one moment. True where it was out of the band."""
        goal, free = target_mg_l(truth.cya_mg_l), truth.free_chlorine_mg_l
        low, high = free < 0.75 * goal, free > 1.5 * goal
        self.hours += step_h
        self.low_h += step_h * low
        self.high_h += step_h * high
        self.dead_h += step_h * (truth.hocl_mg_l < HOCL_LOW_MG_L)
        self.over_h += step_h * (free > upper_free_chlorine_limit_mg_l(truth.cya_mg_l))
        self.ph_out_h += step_h * (not 7.2 <= truth.ph <= 7.8)
        return low or high
