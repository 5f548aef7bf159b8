"""An answer by code: which occurrence of which alarm it means, or why it means none. It can only ever say "I know"."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.requests import Reply, Request, RequestId
from dosectl.notify.due import TEST
from dosectl.notify.outbox import OpenOutbox, Outbox

ANSWER = Code("answer_alarm")
WRONG_MAX = 10
WRONG_WITHIN = timedelta(minutes=10)

UNKNOWN = ReasonKind(
    Code("answer_code.unknown"),
    "No call has this code. Look at the newest message, or answer by the alarm's name: dosectl answer.",
)
USED = ReasonKind(
    Code("answer_code.used"), "This code was used up when {alarm}, occurrence {occurrence}, was answered. Nothing was changed."
)
GRAVER = ReasonKind(
    Code("answer_code.graver"),
    "{alarm}, occurrence {occurrence}, has become graver since that message. Nothing was changed. "
    "Look at the newest message and answer with its code, or by the alarm's name: dosectl answer.",
)
TOO_MANY = ReasonKind(
    Code("answer_code.too_many"),
    "Too many wrong codes came within 10 minutes, so codes wait. Answer by the alarm's name: dosectl answer.",
)
NO_RECORD = ReasonKind(Code("answer_code.no_record"), "The record can't be read, so the code could not be looked up. Try again.")
TEST_DONE = ReasonKind(Code("answer_code.test"), "Thank you: the test of the calls is answered.")


@dataclass(frozen=True, slots=True)
class Settled:
    """What became of an answer by code: a request that names its occurrence, for the step to judge; or a reply at once.

    more : requests of the other alarms that the code of a summary stands for
    """

    request: Request | None = None
    more: tuple[Request, ...] = ()
    reply: Reply | None = None
    words: str = ""


def resolve(open_outbox: OpenOutbox, errors: tuple[type[Exception], ...], request: Request, now: datetime) -> Settled:
    """Looks a code up. Only `answer_alarm` with the argument `code` is touched; every other request comes back as it was.

    errors : what the outbox may raise that a later try can mend.
    The code is used up by the step's own record of the answer, so a crash in between loses no answer.
    """
    arguments = dict(request.arguments)
    if request.kind != ANSWER or "code" not in arguments:
        return Settled(request)
    word = str(arguments["code"]).strip().upper().replace("-", "").replace(" ", "")[:40]
    try:
        outbox = open_outbox()
        try:
            return _resolved(outbox, request, word, now)
        finally:
            outbox.close()
    except errors:
        return _refused(request, NO_RECORD)


def _resolved(outbox: Outbox, request: Request, word: str, now: datetime) -> Settled:
    wrong = sum(1 for _, _, _, _, outcome in outbox.answers(now - WRONG_WITHIN) if outcome == "unknown")
    if wrong >= WRONG_MAX:
        return _refused(request, TOO_MANY)
    found = outbox.find_word(word)
    if found is None:
        outbox.note_answer(now, request.id, request.by, "", 0, "unknown")
        return _refused(request, UNKNOWN)
    if found.used is not None:
        outbox.note_answer(now, request.id, found.person, found.code, found.occurrence, "used")
        return _refused(request, USED, found.code, found.occurrence)
    if found.change == TEST:
        outbox.answer_own(found.call_id, found.person, now)
        outbox.note_answer(now, request.id, found.person, found.code, found.occurrence, "taken")
        return Settled(reply=Reply(request.id, True, TEST_DONE.code, (), TEST_DONE.words), words=TEST_DONE.words)
    if found.graver:
        outbox.note_answer(now, request.id, found.person, found.code, found.occurrence, "graver")
        return _refused(request, GRAVER, found.code, found.occurrence)
    outbox.note_answer(now, request.id, found.person, found.code, found.occurrence, "taken")
    first, *more = (
        replace(
            request,
            id=request.id if not number else RequestId(f"{request.id}.{number}"),
            arguments=(("alarm", code), ("occurrence", occurrence)),
            by=found.person,
        )
        for number, (code, occurrence) in enumerate(found.covers or ((found.code, found.occurrence),))
    )
    return Settled(first, tuple(more))


def _refused(request: Request, kind: ReasonKind, alarm: str = "", occurrence: int = 0) -> Settled:
    facts = (("alarm", alarm), ("occurrence", occurrence)) if alarm else ()
    words = kind.words.format(alarm=alarm, occurrence=occurrence)
    return Settled(reply=Reply(request.id, False, kind.code, facts, kind.words), words=words)
