"""Who feeds: sharing among chlorine feeders, and acid's turn beside them."""

from dataclasses import replace

from dosectl.core.control.params import ControlParams
from dosectl.core.control.pulses import fed_g
from dosectl.core.control.state import ControlState
from dosectl.core.evidence import Evidence
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.verdicts import Denial, Limit, Verdict

Limits = tuple[tuple[FeederId, tuple[Verdict, ...]], ...]
ITSELF = "itself"
FAR_PH = 0.15  # above the target
OF_THE_FLOW = ("flow.proven", "flow.settle", "lockout.")  # what denies at the end and the beginning of each run
NOTHING_G = 0.05  # a limit below this leaves nothing to feed


def barred_by(feeder: FeederId, limits: Limits) -> str | None:
    """The guard that bars a feeder until somebody does something, None where nothing does."""
    for item, verdicts in limits:
        if item == feeder:
            for verdict in verdicts:
                if isinstance(verdict, Denial) and (verdict.latched or verdict.clears_by != ITSELF):
                    return verdict.guard
    return None


def denied_by(feeder: FeederId, limits: Limits) -> str | None:
    """The guard that bars a feeder, one that waits for somebody before one that ends by itself; None where none does."""
    return barred_by(feeder, limits) or next(iter(_deniers(feeder, limits)), None)


def _deniers(feeder: FeederId, limits: Limits) -> tuple[str, ...]:
    return tuple(v.guard for item, verdicts in limits if item == feeder for v in verdicts if isinstance(v, Denial))


def room_g(feeder: FeederId, limits: Limits) -> float:
    """What the guards' limits left this feeder at the last step. [g]"""
    masses = [v.mass_g for item, verdicts in limits if item == feeder for v in verdicts if isinstance(v, Limit)]
    return min(masses, default=float("inf"))


def still_mixing(feeder: FeederId, limits: Limits) -> str | None:
    """The guard that waits for what was fed before to mix, None where none does: a turn opened then would be waited away."""
    return next((guard for guard in _deniers(feeder, limits) if guard.startswith("mixing.")), None)


def held_back(feeders: tuple[FeederId, ...], state: ControlState, limits: Limits) -> bool:
    """Whether an interlock or a limit kept any of these from what control wished at the last step."""
    for item, verdicts in limits:
        if item not in feeders:
            continue
        pulse = state.pulse_of(item)
        wanted_g = NOTHING_G if pulse is None else 0.5 * pulse.mass_g
        for verdict in verdicts:
            if isinstance(verdict, Denial) or (isinstance(verdict, Limit) and verdict.mass_g < wanted_g):
                return True
    return False


def shares(site: Site, limits: Limits, lasting: frozenset[FeederId] = frozenset()) -> tuple[tuple[Feeder, float], ...]:
    """Chlorine feeders that are not barred, each with its share of the demand: as much as it can give of the whole.

    lasting : feeders that some guard has denied for long: another one that may feed carries their share, as a cell in cold or
    saltless water waits for weeks. Where none is left they keep theirs, for the guard may let go at any time.
    """
    able = tuple(f for f in site.feeders if f.substance is Substance.CHLORINE and barred_by(f.id, limits) is None)
    able = tuple(f for f in able if f.id not in lasting) or able
    whole = sum(feeder.rate_g_s for feeder in able)
    return tuple((feeder, feeder.rate_g_s / whole) for feeder in able) if whole > 0.0 else ()


def turn_left_s(params: ControlParams, state: ControlState, evidence: Evidence) -> float:
    """Seconds of acid's turn that are left; 0 while it is chlorine's."""
    if not state.slot_open or state.slot_s is None:
        return 0.0
    return max(0.0, state.slot_s + params.acid_slot_s - evidence.clock_s)


def turn_every_s(params: ControlParams, ph: float) -> float:
    """Least time between two turns of acid: a third of the usual where pH is far above its target.

    Nearer to it the turns stay apart: half as far apart the parts were half as large, no probe saw them, and a healthy pool's
    acid was locked as unanswered.
    """
    return params.acid_every_s / (3.0 if ph > params.ph_target + FAR_PH else 1.0)


def with_turn(params: ControlParams, state: ControlState, evidence: Evidence, acid_due: bool, every_s: float) -> ControlState:
    """Opens acid's turn where acid is due and the last turn is long enough ago; closes it where it is over or not needed."""
    if state.slot_open:
        over = turn_left_s(params, state, evidence) <= 0.0
        return replace(state, slot_open=False, slot_again=False) if over or not acid_due else state
    if not acid_due or (state.slot_s is not None and evidence.clock_s - state.slot_s < every_s):
        return state
    return replace(state, slot_open=True, slot_s=evidence.clock_s)


def turn_cut(site: Site, state: ControlState, evidence: Evidence, limits: Limits) -> ControlState:
    """Acid's turn, where it stands open, ended by the flow. One that only the flow kept from feeding comes again with the next.

    A pump that runs a part of each hour would meet the end of its run in each turn, for turns are whole hours apart. It comes
    again once, and not where a guard of another kind denied the acid: chlorine must not wait for acid that can't be fed.
    """
    if not state.slot_open:
        return state
    acid = tuple(feeder.id for feeder in site.feeders if feeder.substance is Substance.ACID)
    pulses = (pulse for pulse in state.pulses if pulse.feeder in acid)
    fed = any(fed_g(evidence.ledger, pulse.feeder) > pulse.before_g for pulse in pulses)
    denied = (guard for feeder in acid for guard in _deniers(feeder, limits))
    again = not fed and not state.slot_again and all(guard.startswith(OF_THE_FLOW) for guard in denied)
    return replace(state, slot_open=False, slot_s=None if again else state.slot_s, slot_again=again)
