"""Clear a latched trip, with its reason seen and its cause gone."""

from dosectl.core.requests.changes import ClearLatch
from dosectl.core.requests.kind import (
    PRESENCE,
    Argument,
    ArgumentType,
    Asked,
    Judgement,
    RequestKind,
    RequestView,
    Rights,
    granted,
    refused,
)
from dosectl.core.site import Site
from dosectl.model.reasons import Code, ReasonKind

CLEARED = ReasonKind(
    Code("clear_latch.done"),
    "{latch} is cleared ({presence}). Where its cause still stands it latches again at once; nothing is fed by clearing.",
)
NO_LATCH = ReasonKind(Code("clear_latch.none"), "'{latch}' is not latched. Latched now: {latches}.")
UNSEEN = ReasonKind(
    Code("clear_latch.unseen"),
    "{latch} is latched because of {why}, not {reason}. Read that reason, mend its cause, then clear it by that name.",
)


def judge(_site: Site, asked: Asked, view: RequestView) -> Judgement:
    """Clears what the person has seen the reason of."""
    wanted = asked.text("latch")
    latch = next((entry for entry in view.latches if wanted in (entry[0], entry[1])), None)
    if latch is None:
        return refused(
            asked.request, NO_LATCH, latch=wanted[:60], latches=", ".join(entry[0] for entry in view.latches) or "none"
        )
    key, _, why = latch
    if asked.text("reason") != why.code:
        return refused(asked.request, UNSEEN, latch=key, why=str(why.code), reason=asked.text("reason")[:60])
    change = ClearLatch(key, asked.request.by, asked.presence_proven)
    return granted(asked, CLEARED, change, latch=key, presence=PRESENCE[asked.presence_proven])


CLEAR_LATCH = RequestKind(
    code=Code("clear_latch"),
    arguments=(
        Argument("latch", ArgumentType.TEXT, "which trip, as shown"),
        Argument("reason", ArgumentType.TEXT, "code of its reason, as shown: proof that it was read"),
    ),
    rights=Rights.AT_THE_PLANT,
    help="Clear a latched trip after its cause was mended.",
    answers=(CLEARED, NO_LATCH, UNSEEN),
    judge=judge,
)
