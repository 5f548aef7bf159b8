"""pH by acid: a share of what the chemistry asks for, then wait until it has mixed.

Acid only lowers pH; a pH that is too low is left to rise by itself. Without a usable pH, or with one too much in doubt, nothing
is fed. Alkalinity and stabiliser both buffer: leaving the stabiliser out would give too little.
"""

from dosectl.chemistry.carbonate import MG_CACO3_PER_EQ, acid_demand_meq_l
from dosectl.core.control import reasons
from dosectl.core.control.fallback import usable
from dosectl.core.control.params import ControlParams
from dosectl.core.control.pulses import fed_g, left_g, rest_left_s
from dosectl.core.control.reasons import FeederReasons, now_because
from dosectl.core.control.sharing import Limits, barred_by, room_g, still_mixing, turn_every_s, turn_left_s, with_turn
from dosectl.core.control.state import ControlState, Pulse
from dosectl.core.estimate import WaterView
from dosectl.core.evidence import Evidence
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import FeederId, Origin, Substance
from dosectl.model.reasons import Reason
from dosectl.model.signals import SignalKind

LEAST_ALKALINITY_MG_L = 20.0


def acid_wanted_mg_l(site: Site, water: WaterView, ph_target: float) -> float:
    """Acid that would bring the water to a pH. [mg/L as CaCO3 of alkalinity removed]; 0 where it is there already.

    The alkalinity is taken as at least what the stabiliser alone holds, else the two tests contradict each other.
    """
    ph = min(9.0, water.ph)
    if ph <= ph_target:
        return 0.0
    meq_l = acid_demand_meq_l(
        max(LEAST_ALKALINITY_MG_L + 0.4 * water.cya_mg_l, water.alkalinity_mg_l),
        water.cya_mg_l,
        ph,
        ph_target,
        borate_b_mg_l=site.pool.borate_b_mg_l,
        temp_c=min(45.0, max(0.0, water.temp_c)),
        salt_g_l=site.pool.salt_g_l,
    )
    return meq_l * MG_CACO3_PER_EQ / 1000.0


def acid_pulses(
    site: Site,
    params: ControlParams,
    state: ControlState,
    water: WaterView,
    evidence: Evidence,
    granted: tuple[FeederId, ...],
    limits: Limits,
) -> tuple[ControlState, FeederReasons]:
    """The state with acid's turn and pulse settled, and a reason for each acid feeder. The first that is not barred feeds."""
    feeders = tuple(f for f in site.feeders if f.substance is Substance.ACID)
    given: list[tuple[Feeder, Reason]] = []
    chosen: Feeder | None = None
    for feeder in feeders:
        guard = barred_by(feeder.id, limits)
        if guard is None and chosen is None:
            chosen = feeder
            continue
        state = state.without_pulse(feeder.id)
        why = now_because(reasons.BARRED, evidence, guard=guard or "another acid feeder")
        given.append((feeder, why))
    if chosen is None:
        state = with_turn(params, state, evidence, False, params.acid_every_s)
    else:
        state, why = _first(site, params, state, water, evidence, granted, chosen, limits)
        given.append((chosen, why))
    return state, tuple((feeder.id, why) for feeder, why in given)


def _first(
    site: Site,
    params: ControlParams,
    state: ControlState,
    water: WaterView,
    evidence: Evidence,
    granted: tuple[FeederId, ...],
    feeder: Feeder,
    limits: Limits,
) -> tuple[ControlState, Reason]:
    left_by_guards_g, mixing = room_g(feeder.id, limits), still_mixing(feeder.id, limits)
    pulse = state.pulse_of(feeder.id)
    if pulse is not None and feeder.id not in granted and left_g(pulse, evidence.ledger) < 0.95 * pulse.mass_g:
        # Begun and then cut short by a limit: the rest is for the next turn, after mixing. Chlorine need not wait for it.
        state = state.without_pulse(feeder.id)
    mass_g, why = _due(site, params, state, water, evidence, feeder)
    begins = mass_g > 0.0 and state.pulse_of(feeder.id) is None
    # a turn in which nothing may be fed would only take chlorine's time
    if begins and mixing is not None:
        mass_g, why = 0.0, now_because(reasons.BARRED, evidence, guard=mixing)
    elif begins and left_by_guards_g < min(mass_g, feeder.pulse_s_min * feeder.rate_g_s):
        room = round(max(0.0, left_by_guards_g) / site.pool.volume_m3, 2)
        mass_g, why = 0.0, now_because(reasons.WAITS_FOR_ROOM, evidence, room_mg_l=room)
    every_s = turn_every_s(params, water.ph)
    state = with_turn(params, state, evidence, mass_g > 0.0, every_s)
    if mass_g <= 0.0:
        return state.without_pulse(feeder.id), why
    if turn_left_s(params, state, evidence) <= 0.0:
        left_s = 0.0 if state.slot_s is None else max(0.0, state.slot_s + every_s - evidence.clock_s)
        return state.without_pulse(feeder.id), now_because(reasons.ACID_TURN, evidence, ph=water.ph, left_s=round(left_s))
    if state.pulse_of(feeder.id) is None:
        level = 1.0
        before = fed_g(evidence.ledger, feeder.id)
        state = state.with_pulse(Pulse(feeder.id, Origin.CONTROL, level, mass_g, before, evidence.clock_s, why))
    return state, why


def _due(
    site: Site, params: ControlParams, state: ControlState, water: WaterView, evidence: Evidence, feeder: Feeder
) -> tuple[float, Reason]:
    """Mass of the pulse that is due [g], 0 where none is, and why."""
    if not usable(SignalKind.PH, evidence):
        return 0.0, now_because(reasons.NO_PH, evidence)
    if water.ph_sigma > params.ph_sigma_max:
        return 0.0, now_because(reasons.PH_UNSURE, evidence, ph=water.ph, sigma=water.ph_sigma)
    pulse = state.pulse_of(feeder.id)
    above = params.ph_target if pulse is not None else params.ph_target + params.ph_deadband
    if water.ph <= above:
        return 0.0, now_because(reasons.PH_IN_BAND, evidence, ph=water.ph, above_ph=params.ph_target + params.ph_deadband)
    if pulse is not None:
        return pulse.mass_g, pulse.why
    rest = rest_left_s(feeder, evidence, max(feeder.rest_s_min, params.acid_rest_s))
    if rest > 0.0:
        return 0.0, now_because(reasons.WAITING, evidence, left_s=round(rest))
    volume = site.pool.volume_m3
    whole = acid_wanted_mg_l(site, water, params.ph_target)
    share = min(params.acid_mg_l_max, params.acid_share * whole)
    least = feeder.pulse_s_min * feeder.rate_g_s / volume
    if share < least:
        if whole < least:
            return 0.0, now_because(reasons.ACID_SMALL, evidence, ph=water.ph)
        share = least
    share = min(share, feeder.pulse_s_max * feeder.rate_g_s / volume)
    facts = {"ph": water.ph, "aim_ph": params.ph_target, "mass_mg_l": share, "share_percent": float(round(100.0 * share / whole))}
    return share * volume, now_because(reasons.FEED_ACID, evidence, **facts)
