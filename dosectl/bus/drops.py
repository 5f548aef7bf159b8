"""Why a payload was refused: one code for each cause, with words for the person who has to mend the source."""

from dosectl.model.reasons import Code, Reason, ReasonKind
from dosectl.model.signals import Drop

_EFFECT = "The message was dropped; {signal} becomes unknown when no good one comes within its age limit. "


def _kind(code: str, found: str, cure: str) -> ReasonKind:
    return ReasonKind(Code(code), '{topic} sent "{shown}" at {since}: ' + found + ". " + _EFFECT + cure)


TOO_LONG = _kind("payload.too_long", "longer than a reading may be", "Let the source send the value alone, or short JSON.")
EMPTY = _kind("payload.empty", "it is empty", "Look why the source sends nothing.")
BINARY = _kind("payload.binary", "these bytes are no text", "Let the source send text in UTF-8.")
TEXT = _kind("payload.text", "a text stands where a number is needed", "Send the number without quotes, unit or words.")
COMMA = _kind("payload.decimal_comma", "a decimal point is needed", "Set the source to write numbers with a point.")
NOT_A_NUMBER = _kind("payload.not_a_number", "this is no number", "Point the pointer at the number, or let the source send one.")
NOT_FINITE = _kind("payload.not_finite", "this number is not finite", "The sensor has no value: look at its wiring.")
NOT_JSON = _kind(
    "payload.not_json", "it can't be read as JSON", "Correct the source, or leave the pointer out for a plain value."
)
JSON_FOUND = _kind(
    "payload.json_without_pointer", "it is JSON, and no pointer is set", "Set `pointer` to the value, such as /value."
)
MISSING = _kind("payload.missing", "nothing is at the pointer", "Compare `pointer` with what the source sends.")
WORD = _kind("payload.unknown_word", "it is neither an on word nor an off word", "Add the word to `on_words` or `off_words`.")
TIME = _kind("payload.time", "its time stamp can't be read", "Send ISO 8601 with a zone such as Z, or seconds since 1970.")
SEQUENCE = _kind(
    "payload.sequence", "its sequence number is no whole number", "Compare `seq_pointer` with what the source sends."
)
UNIT = _kind("payload.unit", "the unit set for it can't be converted", "Set `unit` to one of those the settings reference lists.")
UNREADABLE = _kind("payload.unreadable", "reading it failed", "Keep the message and report it: this is a defect of ours.")
STATUS = _kind("payload.node_status", "this is no status of a node", "Compare the node's program with the node contract.")
TICK = _kind("payload.sim_tick", "this is no tick of a simulated pool", "Restart the simulated pool.")
RETAINED = ReasonKind(
    Code("message.retained"),
    '{topic} holds a retained message "{shown}" ({since}): it may be of any age. It was not believed. '
    "Publish an empty retained message there, and set the source not to retain.",
)

KINDS: tuple[ReasonKind, ...] = (
    TOO_LONG, EMPTY, BINARY, TEXT, COMMA, NOT_A_NUMBER, NOT_FINITE, NOT_JSON, JSON_FOUND, MISSING, WORD, TIME, SEQUENCE, UNIT,
    UNREADABLE, STATUS, TICK, RETAINED,
)  # fmt: skip

_BY_CODE = {kind.code: kind for kind in KINDS}
_SHOWN_MAX = 60


def shown(payload: bytes) -> str:
    """The beginning of a payload, printable, at most 60 characters."""
    text = payload[:_SHOWN_MAX].decode("utf-8", "backslashreplace")
    printable = "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in text)
    return printable[:_SHOWN_MAX]


def drop_reason(drop: Drop, topic: str) -> Reason | None:
    """The reason behind a drop of this room, ready for words; None for a code of another room."""
    kind = _BY_CODE.get(drop.why)
    return None if kind is None else kind.because(drop.at, topic=topic, signal=str(drop.signal), shown=drop.shown)


def drop_words(drop: Drop, topic: str) -> str:
    """One line for the log."""
    reason = drop_reason(drop, topic)
    if reason is None:
        return f"{topic}: {drop.why}: {drop.shown}"
    words = _BY_CODE[drop.why].words
    return words.format(**dict(reason.facts), since=drop.at.utc.isoformat(timespec="seconds"))
