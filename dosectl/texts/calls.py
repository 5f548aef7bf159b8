"""The text of a call: five parts for who knows the pool, plain words for who does not. At most 400 characters each."""

from dataclasses import dataclass
from datetime import datetime, tzinfo

from dosectl.core.alarms import row_of
from dosectl.core.alarms.priority import Harm
from dosectl.core.alarms.row import Row
from dosectl.core.alarms.view import Priority
from dosectl.model.calls import FLOOD
from dosectl.model.reasons import Code, Facts
from dosectl.texts.figures import moment_text
from dosectl.texts.languages import filled, translated
from dosectl.texts.lines import line_text, title_of

TEXT_MAX = 400
TEST_WORDS = "Test of the calls. Nothing is wrong. Please answer, so that we know that this way works."

# For somebody who does not know the pool: what it is, what to do, what not to do. Nobody is sent to acid, gas or a live pump.
DANGER = (
    "Chemical or gas may be at the pool.",
    "Keep everyone away from the pool and the plant room. Call emergency services if you smell chlorine or anyone coughs. "
    "Then reach the owner.",
    "Do not enter, do not touch containers or pumps, do not switch anything on.",
)
WATER = (
    "The pool water may be unfit to swim in.",
    "Keep everyone out of the water and tell the owner.",
    "Do not add anything to the water. If you smell chlorine, stay out and call for help.",
)
# A cause that is no longer seen makes neither air nor water safe; only a nose and a test by hand do.
OVER_DANGER = (
    "That its cause is no longer seen does not make it safe: who smells chlorine stays out and calls for help. "
    "Nobody swims until the water was tested by hand."
)
OVER_WATER = "Nobody swims until the water was tested by hand."
OTHER = (
    "The pool's controller needs its owner.",
    "Please try to reach the owner today.",
    "Do not add anything to the water. If you smell chlorine, stay out and call for help.",
)


@dataclass(frozen=True, slots=True)
class Told:
    """What a text is made of. since, until : aware; again : it still stands; folded : what follows from it

    line : facts of a message that no alarm made and nobody need answer, else None
    """

    code: str
    priority: int
    since: datetime
    until: datetime | None = None
    again: bool = False
    folded: tuple[str, ...] = ()
    test: bool = False
    line: Facts | None = None


@dataclass(frozen=True, slots=True)
class Reader:
    """For whom: language, whether they know the pool, local time, the pool's name, and the code with which they answer."""

    language: str
    knows_pool: bool
    zone: tzinfo
    pool: str
    code: str = ""


def call_text(told: Told, reader: Reader, now: datetime) -> tuple[str, str]:
    """(title, body) in the reader's language."""
    language = reader.language
    answer = filled("Answer with code {code}: it says only that you know.", language, code=reader.code) if reader.code else ""
    subject = filled("Pool {pool}", language, pool=reader.pool)
    if told.test:
        return subject, _joined((translated(TEST_WORDS, language),), answer)
    if told.line is not None:
        return subject, line_text(told.code, told.line, language, reader.zone, now)
    label = translated(Priority(told.priority).name, language)
    since = moment_text(told.since, reader.zone, now, language)
    title = title_of(told.code, language)
    if told.until is not None:
        until = moment_text(told.until, reader.zone, now, language)
        body = filled("Over: {title}. It lasted from {since} to {until}.", language, title=title, since=since, until=until)
        return f"{subject}: {title}", _joined((body, translated(_after(told), language)), "")
    still = f"{translated('Still', language)}: " if told.again else ""
    if told.code == FLOOD:
        words = f"[{label}] {still}{_at_once(told.folded, language)}"
        return f"{label} {subject}", _joined((words, *_for_a_stranger(told, reader)), answer, last=True)
    if not reader.knows_pool:
        what, do, never = _for_a_stranger(told, reader)
        asked = filled("You are asked to help with the pool of {pool}.", language, pool=reader.pool)
        return f"{label} {subject}", _joined((f"[{label}] {asked}", f"{still}{what}", do, never), answer)
    follow = ""
    if told.folded:
        follow = f" ({filled('and {count} that follow from it', language, count=str(len(told.folded)))})"
    parts = [f"[{label}] {still}{title}{follow}, {filled('since {since}', language, since=since)}."]
    row = _row(told.code)
    if row is not None:
        parts += [translated(row.does, language), translated(row.response, language)]
        consequence, within = translated(row.consequence, language), translated(row.respond_within, language)
        parts.append(filled("If nobody acts: {consequence}; {within}.", language, consequence=consequence, within=within))
    return f"{label} {subject}: {title}", _joined(tuple(parts), answer)


def many_text(told: tuple[Told, ...], reader: Reader) -> tuple[str, str]:
    """One message for many, the gravest first; what is over is told as over."""
    language = reader.language
    standing = [item for item in told if item.until is None]
    over = "; ".join(title_of(item.code, language) for item in told if item.until is not None)
    subject = filled("Pool {pool}", language, pool=reader.pool)
    ended = filled("Over: {titles}.", language, titles=over) if over else ""
    gravest = max(standing or told, key=lambda item: item.priority)
    if not standing:
        return subject, _joined((ended, translated(_after(gravest), language)), "", last=True)
    codes = [code for item in standing for code in (item.folded if item.code == FLOOD else (item.code,))]
    label = translated(Priority(gravest.priority).name, language)
    words = f"[{label}] {_at_once(tuple(dict.fromkeys(codes)), language)}"
    parts = (words, *_for_a_stranger(gravest, reader)) if not reader.knows_pool else (words, ended)
    return f"{label} {subject}", _joined(parts, "", last=True)


def _at_once(codes: tuple[str, ...], language: str) -> str:
    titles = "; ".join(title_of(code, language) for code in codes)
    if len(codes) == 1:
        return f"{titles}."
    return filled("{count} calls at once: {titles}.", language, count=str(len(codes)), titles=titles)


def _row(code: str) -> Row | None:
    try:
        return row_of(Code(code))
    except KeyError:
        return None


def _advice(told: Told) -> tuple[str, str, str]:
    if told.priority >= Priority.CRITICAL:
        return DANGER
    return WATER if told.priority >= Priority.HIGH or told.code == FLOOD else OTHER


def _for_a_stranger(told: Told, reader: Reader) -> tuple[str, ...]:
    """What, what to do and what not, for a reader who does not know the pool; nothing for one who does."""
    return () if reader.knows_pool else tuple(translated(words, reader.language) for words in _advice(told))


def _after(told: Told) -> str:
    """What still holds when a cause is no longer seen."""
    row = _row(told.code)
    if told.priority >= Priority.CRITICAL or (row is not None and row.priority >= Priority.CRITICAL):
        return OVER_DANGER
    unfit = row is not None and row.harm in (Harm.HURT, Harm.UNFIT) and row.priority >= Priority.HIGH
    return OVER_WATER if unfit and str(told.code).startswith(("water.", "feed.")) else ""


def _joined(parts: tuple[str, ...], answer: str, last: bool = False) -> str:
    """The parts, and the answer's line. What does not fit is left out whole: the last part, or of a list of titles (`last`, the
    parts behind them are kept) and of a part that is alone its end."""
    room = TEXT_MAX - (len(answer) + 1 if answer else 0)
    kept = [part for part in parts if part]
    while len(kept) > 1 and not last and len(" ".join(kept)) > room:
        kept.pop()
    tail = " ".join(kept[1:])
    head_room = room - (len(tail) + 1 if tail else 0)
    head = kept[0] if len(kept[0]) <= head_room else kept[0][: head_room - 1].rstrip() + "…"
    return " ".join(part for part in (head, tail, answer) if part)
