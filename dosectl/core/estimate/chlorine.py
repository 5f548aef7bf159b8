"""How free chlorine moves: fed mass, demand, sun. Also how doubt grows."""

from dataclasses import dataclass
from math import exp, log

from dosectl.chemistry import decay
from dosectl.chemistry.cyanurate import CL2_G_MOL, CYANURIC_ACID_G_MOL, Ring, ring_at, solve_hocl_mol_l
from dosectl.core.estimate.filters import Rows, bounded, move_row
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import CHLORINE, DEMAND, DRIFT, EFFECT, OFFSET, STABILISER, SUN, THINNING, Pour

REFERENCE_FREE_MG_L = 3.0  # the demand state is the loss at this chlorine
CYA_SHIFT_MG_L = 5.0  # keeps the logarithm of the stabiliser finite at none
DAY_S = 86400.0
_MG_MOL = 1000.0 * CL2_G_MOL
_CYA_MG_MOL = 1000.0 * CYANURIC_ACID_G_MOL
# Half of the demand at the reference does not care how much chlorine there is (it is what falls in), half is first order.
_FIXED_SHARE = 0.5
_FIXED_HALF_MG_L = 0.3  # below it even the fixed part fades: chlorine can't go negative

# Water without chlorine grows algae, and its demand several-fold; once chlorine holds it, they are used up. Common practice;
# the rates are own judgement.
DEAD_MG_L, HELD_MG_L = 0.2, 2.0
FED_MG_L = 0.1  # in a day: less is no feed
DEAD_S_LEAST, DEAD_S_MOST = 2 * 86400.0, 7 * 86400.0
EATS_ON_SHARE = 1.0 / 3.0  # so the mode ends fifteen days after the feed began, whatever is read
BLOOM_FED_VAR = 1.0  # of ln mg/L for each part fed of what is there: some seven tenths unsure while feeds make up the chlorine
BLOOM_TIMES, BLOOM_DAYS, BLOOM_LOG_SQRT_DAY = 3.0, 3.0, 0.35
HELD_TIMES, HELD_DAYS = 2.5, 3.0  # demand goes up to three times the usual, and back to this, within some days each

# Of each state in its own unit (see `state`): low, high, least and most doubt
LIMITS = (
    (log(0.02), log(100.0), 0.01, 0.9),
    (log(0.05), log(20.0), 0.03, 0.8),
    (log(0.05), log(12.0), 0.03, 1.0),
    (300.0, 1000.0, 0.5, 120.0),
    (log(CYA_SHIFT_MG_L), log(600.0), 0.02, 0.7),
    (12.0, 120.0, 0.5, 40.0),
    (-4.0, 4.0, 0.02, 2.0),
    (log(0.4), log(1.6), 0.02, 0.5),
    (0.0, 0.05, 0.0005, 0.02),
)


@dataclass(frozen=True, slots=True)
class Spell:
    """A stretch of time whose inputs are taken as constant.

    uv : clear-sky light as a share of overhead sun; chlorine_mg_l : fed over the spell
    dead_s : how long the water is known to have stood dead, see `stood_dead_s`
    """

    dt_s: float
    uv: float
    chlorine_mg_l: float
    temp_c: float
    ph: float
    dead_s: float = 0.0


def cya_of(mean: list[float] | tuple[float, ...]) -> float:
    """Stabiliser of a state. [mg/L]"""
    return max(0.0, exp(mean[STABILISER]) - CYA_SHIFT_MG_L)


def hocl_of(free_mg_l: float, cya_mg_l: float, ring: Ring) -> float:
    """HOCl with the ring's forms of the present pH already at hand, which is half of the cost. [mg/L]"""
    return _MG_MOL * solve_hocl_mol_l(free_mg_l / _MG_MOL, cya_mg_l / _CYA_MG_MOL, ring)


def demand_shares(free_mg_l: float) -> tuple[float, float]:
    """The parts of the demand, as multiples of the demand state: what does not grow with chlorine, and what does."""
    scale = 1.0 + _FIXED_HALF_MG_L / REFERENCE_FREE_MG_L
    fixed = _FIXED_SHARE * scale * free_mg_l / (free_mg_l + _FIXED_HALF_MG_L)
    return fixed, (1.0 - _FIXED_SHARE) * free_mg_l / REFERENCE_FREE_MG_L


def demand_mg_l_day(mean: list[float] | tuple[float, ...], temp_c: float) -> float:
    """Present loss by demand."""
    fixed, grows = demand_shares(exp(mean[CHLORINE]))
    return exp(mean[DEMAND]) * decay.demand_temperature_factor(min(45.0, max(0.0, temp_c))) * (fixed + grows)


def sun_per_s(
    mean: list[float] | tuple[float, ...], params: EstimateParams, depth_share: float, free_mg_l: float, ring: Ring
) -> float:
    """First-order loss under a sun of 1, as a share of the free chlorine. [1/s]

    HOCl and OCl- by their published rates, the rest by the ring's, all times the learnt factor and the mean light in the depth.
    """
    hocl = hocl_of(free_mg_l, cya_of(mean), ring)
    unbound = hocl * (decay.K_HOCL_PER_S + (ring.free - 1.0) * decay.K_OCL_PER_S) / free_mg_l
    bound = max(0.0, 1.0 - hocl * ring.free / free_mg_l) * params.sun_ring_per_h / 3600.0
    return exp(mean[SUN]) * depth_share * (unbound + bound) / decay.UV_OF_MEASUREMENT


ADDED_DOUBT, NEUTRALISED_DOUBT = 0.2, 0.5  # of what was put in by hand, one standard deviation; own judgement, and stoichiometry


def put_in(mean: list[float], p: Rows, state: int, by_mg_l: float) -> None:
    """Adds to a state kept as a logarithm, or takes from it, in place: its relative doubt changes, the addition's own comes in.

    What was put in by hand goes round the feeders: it ties nothing to what arrives of theirs.
    """
    if by_mg_l == 0.0:
        return
    before = exp(mean[state])
    after = max(before + by_mg_l, 0.05 * before)  # a neutraliser that was more than there was
    mean[state] = log(after)
    share = before / after
    for other in range(len(mean)):
        p[state][other] *= share
        p[other][state] = p[state][other]
    doubt = ADDED_DOUBT if by_mg_l > 0.0 else NEUTRALISED_DOUBT
    p[state][state] = p[state][state] * share + (doubt * by_mg_l / after) ** 2


def thin(mean: list[float], p: Rows, by: float, doubt: float) -> None:
    """Stabiliser times exp(by) with that much more doubt of its logarithm, in place."""
    mean[STABILISER] = log(cya_of(mean) * exp(by) + CYA_SHIFT_MG_L)
    p[STABILISER][STABILISER] += doubt * doubt


def pour_in(mean: list[float], p: Rows, pour: Pour) -> None:
    """Puts into the state what somebody put into the pool, in place. Stabiliser can't be taken out."""
    put_in(mean, p, STABILISER, max(0.0, pour.stabiliser_mg_l))
    bounded(mean, p, LIMITS)
    put_in(mean, p, CHLORINE, pour.free_chlorine_mg_l)
    bounded(mean, p, LIMITS)


def stood_dead_s(before_s: float, mean: list[float], fed_day_mg_l: float, dt_s: float) -> float:
    """How long the water has stood without chlorine and unfed [s], at most a week; it runs down as fast once it holds.

    fed_day_mg_l : in the last day. Feeders rest most minutes and all night: that is fed water still. Fed water that is believed
    empty is no dead water: there the reading contradicts the feed, and the electrode may be wrong. But what stood dead may eat
    for a week or two, so there it only runs down slowly.
    """
    if mean[CHLORINE] >= log(DEAD_MG_L):
        return max(0.0, before_s - dt_s)
    return min(DEAD_S_MOST, before_s + dt_s) if fed_day_mg_l < FED_MG_L else max(0.0, before_s - EATS_ON_SHARE * dt_s)


def blooming(mean: list[float], dead_s: float) -> bool:
    """Whether this water stood dead for days and does not hold chlorine yet: what is fed is eaten, nobody knows how fast."""
    return dead_s >= DEAD_S_LEAST and mean[CHLORINE] < log(HELD_MG_L)


def _bloom(mean: list[float], p: Rows, params: EstimateParams, free_mg_l: float, days: float) -> None:
    """Of water that stood dead: its demand goes up by itself while it does, and back from far above the usual once it holds."""
    usual = log(params.demand_mg_l_day)
    if free_mg_l < DEAD_MG_L:
        lacking = usual + log(BLOOM_TIMES) - mean[DEMAND]
        mean[DEMAND] += max(0.0, lacking) * min(1.0, days / BLOOM_DAYS)
        p[DEMAND][DEMAND] += BLOOM_LOG_SQRT_DAY**2 * days
    elif free_mg_l > HELD_MG_L:
        over = mean[DEMAND] - usual - log(HELD_TIMES)
        mean[DEMAND] -= max(0.0, over) * min(1.0, days / HELD_DAYS)


def bloom_over(mean: list[float], p: Rows, params: EstimateParams) -> None:
    """A test has found chlorine where the water had stood dead, in place: what ate it is mostly used up, and its demand with it.

    Else the demand that the dead water taught stays for good: it took the estimate to nothing each night, and each morning the
    electrode was blamed for reading more.
    """
    held = log(params.demand_mg_l_day * HELD_TIMES)
    if mean[DEMAND] <= held:
        return
    mean[DEMAND] = held
    for other in range(len(mean)):
        p[DEMAND][other] = p[other][DEMAND] = 0.0
    p[DEMAND][DEMAND] = params.demand_log_sigma**2


def predict(mean: list[float], p: Rows, params: EstimateParams, spell: Spell, depth_share: float) -> None:
    """Moves state and covariance through a spell, in place. Exact for a constant rate, so an hour is as good as 60 minutes."""
    free = exp(mean[CHLORINE])
    days = spell.dt_s / DAY_S
    warmth = exp(mean[DEMAND]) * 2.0 ** ((spell.temp_c - 25.0) / 10.0)
    fixed, grows = demand_shares(free)
    k_fixed = warmth * fixed / free
    k_demand = k_fixed + warmth * grows / free
    k_sun = 0.0
    if spell.uv > 0.0:
        k_sun = spell.uv * sun_per_s(mean, params, depth_share, free, ring_at(10.0**-spell.ph)) * DAY_S
    k = k_demand + k_sun
    kept = free * exp(-k * days)
    after = kept + spell.chlorine_mg_l * exp(mean[EFFECT] - 0.5 * k * days)
    share = kept / after
    mean[CHLORINE] = log(after)
    mean[STABILISER] -= mean[THINNING] * days
    mean[OFFSET] += mean[DRIFT] * days
    loses = ((CHLORINE, share * (1.0 + k_fixed * days)), (DEMAND, -share * k_demand * days), (SUN, -share * k_sun * days))
    move_row(p, CHLORINE, (*loses, (EFFECT, 1.0 - share)) if spell.chlorine_mg_l > 0.0 else loses)
    move_row(p, OFFSET, ((OFFSET, 1.0), (DRIFT, days)))
    move_row(p, STABILISER, ((STABILISER, 1.0), (THINNING, -days)))
    unknown = (params.unknown_loss_mg_l_sqrt_day + params.unknown_loss_share * k * free) / after
    p[CHLORINE][CHLORINE] += unknown * unknown * days
    if spell.chlorine_mg_l > 0.0 and blooming(mean, spell.dead_s):
        p[CHLORINE][CHLORINE] += BLOOM_FED_VAR * spell.chlorine_mg_l / after
    p[DEMAND][DEMAND] += params.demand_log_sqrt_day**2 * days
    p[SUN][SUN] += 0.0064 * days  # 8 % a root day: clouds come and go
    p[OFFSET][OFFSET] += params.orp_drift_mv_sqrt_day**2 * days
    p[DRIFT][DRIFT] += 0.0009 * days  # 0.03 mV/day a root day: fouling goes on as it began
    p[EFFECT][EFFECT] += 0.0001 * days  # 1 % a root day: cells wear, hypochlorite ages
    p[STABILISER][STABILISER] += params.stabiliser_log_sqrt_day**2 * days
    p[THINNING][THINNING] += 2.5e-7 * days  # 0.3 % a day in a month: rain and backwash have their seasons
    if spell.dead_s > 0.0:
        _bloom(mean, p, params, free, days)
    bounded(mean, p, LIMITS)
