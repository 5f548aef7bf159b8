"""Why a feeder is wanted, or not; why chlorine is on fall-back."""

from dosectl.core.evidence import Evidence
from dosectl.model.feeds import FeederId
from dosectl.model.reasons import Code, Reason, ReasonKind

NO_FLOW = ReasonKind(
    Code("control.no_flow"), "No proven flow since {since}: nothing is wanted until water moves past the feed point."
)
PUMP_STOPS = ReasonKind(
    Code("control.pump_stops_soon"), "The pump is expected to stop within minutes, as on the days before: feeding ends first."
)
ENOUGH = ReasonKind(
    Code("control.enough"), "Free chlorine is about {free_chlorine_mg_l} mg/L, aim {aim_mg_l}: nothing is needed now."
)
GATHERING = ReasonKind(
    Code("control.gathering"), "{share_percent} % of the next pulse is due; a short pulse would wear the feeder for nothing."
)
WAITS_FOR_ROOM = ReasonKind(
    Code("control.waits_for_room"),
    "The limits leave {room_mg_l} mg/L now, too little for a feed; it begins when they leave enough.",
)
OVERDOSE_FADES = ReasonKind(
    Code("control.overdose_fades"),
    "Free chlorine is about {free_chlorine_mg_l} mg/L, above the target of {target_mg_l}: it is left to fade.",
)
UPPER_LIMIT = ReasonKind(
    Code("control.upper_limit"),
    "Free chlorine may be as high as {high95_mg_l} mg/L; a feed could pass the limit of {limit_mg_l}. A water test would tell.",
)
WAITING = ReasonKind(Code("control.waiting_period"), "The last feed mixes first; the next may begin in {left_s} s.")
ACID_ROOM = ReasonKind(
    Code("control.makes_room_for_acid"), "Chlorine waits for up to {left_s} s so that acid can be fed; pH is {ph}."
)
BARRED = ReasonKind(Code("control.barred"), "Not wanted while {guard} bars this feeder.")
NOT_SHARED = ReasonKind(Code("control.no_chlorine_wanted"), "No chlorine is wanted of this feeder.")
FEED_CHLORINE = ReasonKind(
    Code("control.feeds_chlorine"),
    "Free chlorine is about {free_chlorine_mg_l} mg/L, aim {aim_mg_l}; {rate_mg_l_h} mg/L an hour covers sun, demand and pause.",
)
FEED_AHEAD = ReasonKind(
    Code("control.feeds_ahead"),
    "Free chlorine is about {free_chlorine_mg_l} mg/L, aim {aim_mg_l}: the {pause_h} h without flow to come would take "
    "{share_percent} % of it, so it may stand above the band until then.",
)
FEED_FALLBACK = ReasonKind(
    Code("control.feeds_fallback"), "Fall-back: {share_percent} % of the usual {usual_mg_l_day} mg/L a day."
)
FEED_ACID = ReasonKind(
    Code("control.feeds_acid"), "pH is {ph}, aim {aim_ph}; {mass_mg_l} mg/L of alkalinity is taken, {share_percent} % of the way."
)
PH_IN_BAND = ReasonKind(Code("control.ph_in_band"), "pH is {ph}: no acid is needed below {above_ph}.")
NO_PH = ReasonKind(Code("control.no_ph"), "pH is not usable since {since}: no acid is fed without it. Check the probe.")
PH_UNSURE = ReasonKind(Code("control.ph_unsure"), "pH {ph} is doubted by {sigma}: no acid until a pH test or a steady probe.")
ACID_TURN = ReasonKind(Code("control.acid_waits_turn"), "pH is {ph}; acid has its turn in {left_s} s.")
ACID_SMALL = ReasonKind(Code("control.acid_pulse_too_small"), "pH is {ph}; the acid due is less than the shortest pulse gives.")
HOLD = ReasonKind(Code("control.fallback_hold"), "Chlorine holds: the reading is lost and this pool is set to hold then.")
HOLD_CLOCK = ReasonKind(
    Code("control.fallback_clock"),
    "Chlorine holds: the reading is lost and the wall clock is in doubt since {since}. Check the network.",
)

FALLBACK_NO_ORP = ReasonKind(
    Code("control.fallback_no_orp"),
    "No usable ORP since {since}: chlorine runs at {share_percent} % of its usual {usual_mg_l_day} mg/L a day. "
    "Check the probe; test by hand.",
)
FALLBACK_NO_PH = ReasonKind(
    Code("control.fallback_no_ph"),
    "No usable pH since {since}: chlorine runs at {share_percent} % of its usual {usual_mg_l_day} mg/L a day, acid waits. "
    "Check the probe.",
)
FALLBACK_UNSURE = ReasonKind(
    Code("control.fallback_unsure"),
    "Free chlorine is known only within {low95_mg_l} to {high95_mg_l} mg/L: chlorine follows the best guess, between "
    "{share_percent} % and all of its usual {usual_mg_l_day} mg/L a day. Test free chlorine by hand.",
)

TARGET_SHARE = ReasonKind(
    Code("control.target_share"), "{share_percent} % of the stabiliser, taken as {stabiliser_mg_l} mg/L with part of its doubt."
)
TARGET_FLOOR = ReasonKind(
    Code("control.target_floor"), "The least target: the stabiliser of {stabiliser_mg_l} mg/L would ask for less."
)
TARGET_CEILING = ReasonKind(
    Code("control.target_ceiling"), "The highest target: the stabiliser of {stabiliser_mg_l} mg/L would ask for more."
)
REPLACE_WATER = ReasonKind(
    Code("control.replace_water"),
    "The stabiliser of {stabiliser_mg_l} mg/L asks for more chlorine than a pool should hold: replace part of the water.",
)

REASONS = (
    NO_FLOW, PUMP_STOPS,
    ENOUGH, GATHERING, WAITS_FOR_ROOM,
    OVERDOSE_FADES, UPPER_LIMIT, WAITING, ACID_ROOM, BARRED, NOT_SHARED, FEED_CHLORINE, FEED_AHEAD, FEED_FALLBACK,
    FEED_ACID, PH_IN_BAND, NO_PH, PH_UNSURE, ACID_TURN, ACID_SMALL, HOLD, HOLD_CLOCK, FALLBACK_NO_ORP, FALLBACK_NO_PH,
    FALLBACK_UNSURE, TARGET_SHARE, TARGET_FLOOR, TARGET_CEILING, REPLACE_WATER,
)  # fmt: skip
"""All of this room's reasons, for the texts and the published table."""

FeederReasons = tuple[tuple[FeederId, Reason], ...]


def kept_since(new: Reason, before: Reason | None) -> Reason:
    """The new facts under the old beginning, where the reason is still the same."""
    if before is None or before.code != new.code:
        return new
    return Reason(new.code, new.facts, before.since)


def of_feeder(reasons: FeederReasons, feeder: FeederId) -> Reason | None:
    """The reason of a feeder, None where it has none."""
    for item, reason in reasons:
        if item == feeder:
            return reason
    return None


def now_because(kind: ReasonKind, evidence: Evidence, **facts: float | int | str) -> Reason:
    """A reason of this moment; numbers are rounded to what a person reads, so that it changes only when they would see it."""
    shown = {name: round(value, 2) if isinstance(value, float) else value for name, value in facts.items()}
    return kind.because(evidence.now, **shown)
