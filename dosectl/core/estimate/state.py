"""What the estimate is, what goes in and what others see of it: plain floats and tuples, durable as they are."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from dosectl.core.requests.changes import HandAddition
from dosectl.model.feeds import Substance
from dosectl.model.signals import SignalKind
from dosectl.model.water_tests import Quantity, WaterTest

# Places of the states in `mean`; `cov` holds the upper triangle row by row.
CHLORINE, DEMAND, SUN, OFFSET, STABILISER, SLOPE, DRIFT, EFFECT, THINNING = range(9)
"""ln mg/L; ln mg/L/day at 3 mg/L and 25 C; ln of a factor; mV at 0.03 mg/L HOCl and pH 7.5; ln (mg/L + 5); mV/decade; mV/day by
which the offset steadily moves; ln of what arrives of what the feeders are said to give; share of (stabiliser + 5) lost a day."""


@dataclass(frozen=True, slots=True)
class Pour:
    """What was put in by hand, at its own moment. It never went through a feeder.

    at_s : plant clock [s]; free_chlorine_mg_l : below 0 what a neutraliser took; stabiliser_mg_l
    alkalinity_mg_l : below 0 what acid took [as CaCO3]
    """

    at_s: float
    free_chlorine_mg_l: float
    stabiliser_mg_l: float
    alkalinity_mg_l: float = 0.0

    @property
    def of_joint_state(self) -> bool:
        """Whether it brought chlorine or stabiliser; alkalinity and pH stand beside those."""
        return self.free_chlorine_mg_l != 0.0 or self.stabiliser_mg_l > 0.0


class Electrode(StrEnum):
    """What became of the redox electrode: NEW in its place, CHECKED in a standard, or MOVED so far that it started over."""

    NEW = "new"
    CHECKED = "checked"
    MOVED = "moved"


@dataclass(frozen=True, slots=True)
class Break:
    """What lies between the end of one stored hour and the begin of the next, see `breaks`.

    gap_s : time off [s]; uv : mean clear-sky light in it; electrode : what became of it after that, None: nothing
    renewed : a chlorine container was filled anew; thinned : how salt showed the stabiliser to change, and that one's doubt, both
        of its logarithm
    """

    gap_s: float = 0.0
    uv: float = 0.0
    electrode: Electrode | None = None
    renewed: bool = False
    thinned: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Hour:
    """One hour of inputs, and the state at its start, for going back when a test comes late or is withdrawn.

    mean, cov : the state at `start_s` [plant clock]
    span_s : time covered so far; chlorine_mg_l : fed in it; uv_s : clear-sky light summed over it [s of overhead sun]
    temp_c, ph : as last believed in it
    orp_mv_s, orp_s : usable ORP times its duration [mV s], and that duration [s]
    added_mg_l : of an older record: chlorine put in by hand as it began
    dead_s : as in the estimate, when it began
    pours : put in by hand in it. What was put in shortly before it began and is not yet in `mean` is the first
    acid_mg_l : alkalinity that fed acid took in it; ph_read : pH by the probe, its offset in it, at its end; None: not known
    ph_seen_s : when that probe had last been read by then; None: not known
    yielded : by how much the variances of chlorine and demand grew as readings were other than foretold, see `surprise`
    off_s : short times off in it, which no reading and no feed is known of
    broken : what came before it, after the hour before; `mean` and `cov` know it. None: nothing
    """

    start_s: float
    mean: tuple[float, ...]
    cov: tuple[float, ...]
    span_s: float
    chlorine_mg_l: float
    uv_s: float
    temp_c: float
    ph: float
    orp_mv_s: float
    orp_s: float
    added_mg_l: float = 0.0
    dead_s: float = 0.0
    pours: tuple[Pour, ...] = ()
    acid_mg_l: float = 0.0
    ph_read: float | None = None
    yielded: tuple[float, float] = (0.0, 0.0)
    off_s: float = 0.0
    broken: Break | None = None
    ph_seen_s: float | None = None

    @property
    def poured(self) -> tuple[Pour, ...]:
        """All chlorine and stabiliser that was put in by hand in this hour, of an older record as well."""
        pours = tuple([pour for pour in self.pours if pour.of_joint_state])
        return pours if self.added_mg_l == 0.0 else (Pour(self.start_s, self.added_mg_l, 0.0), *pours)

    @property
    def begins_s(self) -> float:
        """Where it begins among tests and pours: what was counted a little late is in it, and so is what came after that, or in
        the time off before it."""
        off_s = 0.0 if self.broken is None else self.broken.gap_s
        return min([self.start_s - off_s, *[pour.at_s for pour in self.poured]])


@dataclass(frozen=True, slots=True)
class Taught:
    """What one test changed beside the stored hours, see `taken_back`.

    by : step of pH, its probe's offset and alkalinity; of a test of stabiliser its step (ln); empty for chlorine.
        freed : roots of the variances it removed, signed alike
    counted : tested_s, drift_mv_sqrt_day and dead_s before it, of a test of chlorine that was believed
    at_s : when it was used [plant clock]
    said : value, sigma and age [days] with which it was used, and what stood before it; not of chlorine
    seen_s : when the pH probe had last been read by then
    until_s : when the pH probe that it was set beside was replaced or set anew; what it taught ended with that one
    """

    request: str
    quantity: Quantity
    by: tuple[float, ...]
    freed: tuple[float, ...]
    counted: tuple[float | None, float | None, float] | None
    at_s: float | None = None
    said: tuple[float, float, float, float] | None = None
    seen_s: float | None = None
    until_s: float | None = None


@dataclass(frozen=True, slots=True)
class Estimate:
    """The water as believed, with covariance. Durable; its doubt grows by the time it was not updated.

    mean, cov : 9 states and the 45 numbers of their covariance's upper triangle, see the constants above
    updated_s : plant clock of the last update [s], None before the first
    ph : pH, probe offset, and their variances and covariance (ph, offset, var, covar, var)
    alkalinity_mg_l, alkalinity_var : total alkalinity and its variance
    temp_c : filtered water temperature
    sun_day_h : clear-sky light of a whole day here and now [h of overhead sun]
    misfit_s : how long ORP has been refused as unbelievable for this model [s]
    hour, history : the running hour and those of a fortnight before it; history changes once an hour or with a test
    tests : tests of chlorine and stabiliser applied in those hours; doubted : requests whose value was mostly not believed
    orp_seen_s, tested_s : plant clock of the last ORP used and of the last chlorine test, None before the first
    drift_mv_sqrt_day : how fast this electrode was found to drift, None before a test has shown it
    misread_mv : how far above the foretold ORP has lain of late, a mean over hours of readings
    light_share : light of the usual day here as a share of a clear sky's, learnt where it is told; else 1
    cover_closed : as the last update heard it, None where it did not
    salt : the running day's begin [s], g/L times s and s seen, mean of the day before [g/L, 0 none]; None before the first
    dead_s : how long the water stood dead, counted down since it is fed, see `chlorine.stood_dead_s`
    surprise : how far off ORP has lain of late, a mean over hours in standard deviations; below 0: lower than foretold
    taught : what the last tests changed beside those hours, oldest first
    unsettled : of an older record, whose hours were two days; not used
    ph_seen_s : plant clock of the last reading of pH that was used
    dark_s : for how long by daylight a sunlight signal has said next to nothing, see `light`
    """

    mean: tuple[float, ...]
    cov: tuple[float, ...]
    updated_s: float | None
    ph: tuple[float, float, float, float, float]
    alkalinity_mg_l: float
    alkalinity_var: float
    temp_c: float
    sun_day_h: float
    misfit_s: float
    hour: Hour | None
    history: tuple[Hour, ...]
    tests: tuple[WaterTest, ...]
    doubted: tuple[str, ...]
    orp_seen_s: float | None
    tested_s: float | None
    drift_mv_sqrt_day: float | None = None
    surprise: float = 0.0
    light_share: float = 1.0
    misread_mv: float = 0.0
    salt: tuple[float, float, float, float] | None = None
    dead_s: float = 0.0
    taught: tuple[Taught, ...] = ()
    cover_closed: bool | None = None
    unsettled: tuple[WaterTest, ...] = ()
    ph_seen_s: float | None = None
    dark_s: float = 0.0


@dataclass(frozen=True, slots=True)
class EstimateInputs:
    """What happened since the last update. None means not usable, never zero.

    fed : (substance, mg/L fed since the last update by the ledger)
    light_share : sunlight now or of this day as a share of a clear sky's; below `light.LEAST_SHARE` not believed
    salt_g_l : by a probe
    renewed : a chlorine container was filled anew since the last update
    replaced, checked : kinds of probes that are new since then, or were set against their standard
    new_tests : entered (or withdrawn) since the last update; additions : put in by hand since then
    """

    clock_s: float
    utc: datetime
    dt_s: float
    orp_mv: float | None
    ph: float | None
    ph_sigma: float
    temp_c: float | None
    flow_proven_for_s: float
    fed: tuple[tuple[Substance, float], ...]
    new_tests: tuple[WaterTest, ...] = ()
    cover_closed: bool | None = None
    additions: tuple[HandAddition, ...] = ()
    light_share: float | None = None
    renewed: bool = False
    salt_g_l: float | None = None
    replaced: frozenset[SignalKind] = frozenset()
    checked: frozenset[SignalKind] = frozenset()


@dataclass(frozen=True, slots=True)
class WaterView:
    """The water in plain units, with its doubt; what control, advice and the console read.

    low95_mg_l, high95_mg_l : bounds of free chlorine that hold with 95 %
    demand_mg_l_day : present loss by demand; sun_loss_mg_l_day : of a clear day at the present chlorine
    orp_offset_mv : reading of this electrode at 0.03 mg/L HOCl and pH 7.5
    hocl_mg_l : at 25 C constants
    arrives : of what the chlorine feeders are booked for, and of what their product's age leaves, this share arrives
    arrives_log_sigma : standard deviation of its natural logarithm
    dark_h : for how long by daylight a sunlight signal has said next to nothing
    """

    free_chlorine_mg_l: float
    sigma_mg_l: float
    low95_mg_l: float
    high95_mg_l: float
    ph: float
    ph_sigma: float
    temp_c: float
    cya_mg_l: float
    cya_sigma: float
    alkalinity_mg_l: float
    alkalinity_sigma: float
    demand_mg_l_day: float
    sun_loss_mg_l_day: float
    orp_offset_mv: float
    hocl_mg_l: float
    arrives: float = 1.0
    arrives_log_sigma: float = 0.0
    dark_h: float = 0.0


WATER_STATES = (Quantity.FREE_CHLORINE, Quantity.STABILISER)
"""Quantities whose tests move the joint state, so that a late one is applied where it belongs."""
