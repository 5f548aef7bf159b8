"""May two products meet? The answer is never yes: at best nothing worse is known."""

from collections.abc import Mapping

from dosectl.chemistry.answers import mixing
from dosectl.chemistry.answers.dechlorination import NEUTRALISERS
from dosectl.core.advice import safety
from dosectl.core.advice.answer import Answer, answer, note
from dosectl.core.advice.known import Refused
from dosectl.core.requests.products import NAMES
from dosectl.model.reasons import Code, ReasonKind

MIXABLE: Mapping[str, str] = {**NAMES, **{n.key.replace("_", "-"): n.key for n in NEUTRALISERS}}

CALCIUM = {"calcium-chloride", "calcium-chloride-dihydrate", "calcium-hypochlorite"}
CARBONATES = {"soda-ash", "bicarbonate"}

NEVER = ReasonKind(
    Code("advice.never_mix"), "REFUSED. {danger}. They must never meet, in a bucket, a scoop, a pipe, a feeder or a store."
)
SAME = ReasonKind(
    Code("advice.mix_same"),
    "That is the same kind of product. Even so never pour an old container's rest into a new one: strengths and makes differ.",
)
NO_DANGER = ReasonKind(
    Code("advice.mix_none"),
    "No dangerous reaction of {one} with {other} is known here, which does not make it safe: labels may know "
    "more. Add one, let the "
    "pool mix for a full turnover, then the other.",
)
IN_POOL_BOTH = ReasonKind(
    Code("advice.mix_pool_both"),
    "In the pool's own water both only add up, each well mixed before the other comes; the danger is in containers, "
    "scoops and feeders.",
)
CLOUDS = ReasonKind(
    Code("advice.mix_clouds"),
    "Given soon after one another they cloud the water with chalk and are lost: keep a day between them, and the pH below 7.8.",
)
WATER_ONLY = ReasonKind(
    Code("advice.mix_working"),
    "This is judged by kinds of substance ({one}; {other}), not computed: there is no figure to work out.",
)
IN_POOL = ReasonKind(
    Code("advice.mix_pool"),
    "In the pool's own water, one well mixed before the other comes, they only undo part of each other. Wait a "
    "full turnover, and keep "
    "the places where they go in apart.",
)
RESCUE = ReasonKind(
    Code("advice.mix_rescue"),
    "If they have met: leave at once, upwind and uphill, breathe no vapour, do not try to rinse it away, call "
    "the emergency services.",
)


def mix(one: str, other: str) -> Answer:
    """Whether two products may meet. Raises Refused for a product that is not known: unknown is never harmless."""
    for name in (one, other):
        if name not in MIXABLE:
            raise Refused(
                f"product = {name!r}: accepted is one of {', '.join(MIXABLE)}; what is not known here is taken "
                f"as dangerous: never mix it"
            )
    both = (*safety.notes_for(MIXABLE[one]), *safety.notes_for(MIXABLE[other]))
    notes = tuple(dict.fromkeys(n for n in both if n not in (safety.MORE, safety.CONTROLLER, safety.TO_WATER)))
    if MIXABLE[one] == MIXABLE[other]:
        return Answer("mix", (answer(SAME),), safety=notes)
    danger = mixing.danger(*sorted((MIXABLE[one], MIXABLE[other])))
    kinds = [mixing.family_of(MIXABLE[name]) for name in (one, other)]
    how = note(WATER_ONLY, one=kinds[0].value, other=kinds[1].value)
    if danger is None:
        chalk = {one, other} & CALCIUM and {one, other} & CARBONATES
        more = (note(CLOUDS),) if chalk else ()
        return Answer("mix", (answer(NO_DANGER, one=one, other=other), *more, how), safety=notes)
    in_pool = IN_POOL_BOTH if set(kinds) <= mixing.CHLORINES else IN_POOL
    said = danger[0].upper() + danger[1:]
    return Answer("mix", (answer(NEVER, danger=said), note(RESCUE), note(in_pool), how), safety=notes)


def refused(result: Answer) -> bool:
    """Whether this is a mixture that must never be."""
    return NEVER.code in result.codes()
