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

NO_STOP_SEEN = ReasonKind(
    Code("clear_latch.no_stop_seen"),
    "Not cleared: {latch} stands until the flow switch has shown no flow with the pump off. Have the switch repaired, let the "
    "pump stop once, then clear it.",
)
NOT_TESTED = ReasonKind(
    Code("clear_latch.not_tested"),
    "Not cleared: {latch} stands until pH was tested by hand and entered since it latched. Test pH, then clear it.",
)
NOT_MOVED = ReasonKind(
    Code("clear_latch.not_moved"),
    "Not cleared: {latch} ends by itself once the electrode moves. Check the ORP electrode, or replace it and enter that; a hand "
    "test of free chlorine lets feeding go on meanwhile where it finds little.",
)
TO_SHOW = {Code("flow.off"): NO_STOP_SEEN, Code("ph.test"): NOT_TESTED, Code("orp.move"): NOT_MOVED}  # as guards name it


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
    if key in view.withheld:
        return refused(asked.request, TO_SHOW[view.withheld[key]], latch=key)
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
    answers=(CLEARED, NO_LATCH, UNSEEN, NO_STOP_SEEN, NOT_TESTED, NOT_MOVED),
    judge=judge,
)
