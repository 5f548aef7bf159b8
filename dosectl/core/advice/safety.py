"""What stands with every answer that has a person handle a product. Own words; substance from public advice, from memory."""

from dosectl.chemistry.answers.dechlorination import NEUTRALISERS
from dosectl.chemistry.answers.mixing import CHLORINES
from dosectl.chemistry.products import Family, product
from dosectl.model.reasons import Code, ReasonKind

LABEL = ReasonKind(
    Code("safety.label"), "The product's label, local codes and licensed trades come first; this is arithmetic, not a permit."
)
ONE = ReasonKind(
    Code("safety.one"), "One product at a time: let the pump mix it for a full turnover before anything else goes in."
)
TO_WATER = ReasonKind(Code("safety.to_water"), "Add the product to water, never water to the product.")
SKIMMER = ReasonKind(
    Code("safety.skimmer"), "Never into the skimmer, a basket or a feeder made for something else. Pump running, spread it wide."
)
NOBODY = ReasonKind(
    Code("safety.nobody"), "Nobody in the pool while it goes in and until it has mixed; test before anyone returns."
)
EYES = ReasonKind(
    Code("safety.eyes"), "Protect eyes and skin, have running water at hand, keep children away, never work alone with acid."
)
AIR = ReasonKind(Code("safety.air"), "Open air or strong ventilation; do not breathe vapour or dust.")
ACID = ReasonKind(
    Code("safety.acid"), "Acid and any chlorine together free chlorine gas: never pour, carry, store or rinse them together."
)
TABLETS = ReasonKind(
    Code("safety.tablets"),
    "Never bring tablets or granules of different kinds together, not even as dust in a scoop: they can burn.",
)
HEATS = ReasonKind(
    Code("safety.heats"),
    "It heats water as it dissolves, enough to boil and spray: a little at a time into a bucket of cold pool water, stirring.",
)
REDUCER = ReasonKind(
    Code("safety.reducer"),
    "Never let it touch a chlorine product, an acid or another neutraliser outside the pool: heat, fire or choking gas.",
)
MORE = ReasonKind(
    Code("safety.retest"), "Give the first portion, let it mix, test again, and only then decide on the next: never all at once."
)
CONTROLLER = ReasonKind(
    Code("safety.enter"),
    "If a controller feeds this pool, enter afterwards what you added, so that it does not feed on top of it.",
)

NOTES: tuple[ReasonKind, ...] = (
    LABEL,
    ONE,
    TO_WATER,
    SKIMMER,
    NOBODY,
    EYES,
    AIR,
    ACID,
    TABLETS,
    HEATS,
    REDUCER,
    MORE,
    CONTROLLER,
)

_HEATING = {"caustic_soda", "calcium_chloride", "calcium_chloride_dihydrate"}
_TABLETS = {Family.ISOCYANURATE, Family.CALCIUM_HYPOCHLORITE}


def notes_for(key: str) -> tuple[ReasonKind, ...]:
    """The notes of a product or neutraliser. Electrolysis is not handled: only the controller's note stands with it."""
    if key in {n.key for n in NEUTRALISERS}:
        return (REDUCER, MORE, ONE, SKIMMER, TO_WATER, EYES, AIR, NOBODY, CONTROLLER, LABEL)
    family = product(key).family
    if family is Family.ELECTROLYTIC:
        return (CONTROLLER, LABEL)
    chlorine = family in CHLORINES
    return (
        *((ACID,) if chlorine or family is Family.ACID else ()),
        *((TABLETS,) if family in _TABLETS else ()),
        *((HEATS,) if key in _HEATING else ()),
        MORE,
        ONE,
        TO_WATER,
        SKIMMER,
        NOBODY,
        EYES,
        AIR,
        CONTROLLER,
        LABEL,
    )
