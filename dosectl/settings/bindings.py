"""How signals and commands travel: topics, pointers, conversions, templates for plain relays."""

from dataclasses import dataclass

from dosectl.model.feeds import FeederId
from dosectl.model.signals import SignalId, SignalKind


@dataclass(frozen=True, slots=True)
class SignalBinding:
    """Where one signal comes from and how its payload becomes a number or a switch.

    topic : exact topic, no wildcards
    pointer : JSON pointer (RFC 6901) to the value, "" where the payload is the plain value itself
    unit : unit of the payload, one of `units.UNITS` of the kind; "" for a switch. The decoder turns it into the kind's standard unit
    scale, offset : value in the payload's unit = scale * payload + offset, before the unit is converted
    time_pointer, seq_pointer : JSON pointers to the source's own time (RFC 3339, or seconds or milliseconds since 1970) and number
    on_words, off_words : payload texts of a switch, compared without case; numbers and JSON booleans match by their text
    switch : the payload is a switch state, not a number
    inverted : the switch reads the other way round
    """

    signal: SignalId
    kind: SignalKind
    topic: str
    pointer: str = ""
    unit: str = ""
    scale: float = 1.0
    offset: float = 0.0
    time_pointer: str | None = None
    seq_pointer: str | None = None
    on_words: tuple[str, ...] = ("on", "1", "true")
    off_words: tuple[str, ...] = ("off", "0", "false")
    switch: bool = False
    inverted: bool = False


@dataclass(frozen=True, slots=True)
class RelayTemplate:
    """How a plain relay is commanded that takes "on for N seconds" and ends the feed by itself.

    on_payload : `{seconds}` becomes the life of the command [whole s], `{milliseconds}` the same in ms, `{level}` and `{percent}` the
        level (0..1, 0..100). At least one of the first two must occur in topic or payload: a relay that does not end by itself is refused
    retain : always False; it is a field only so that a reader sees it was decided
    """

    feeder: FeederId
    on_topic: str
    on_payload: str
    off_topic: str
    off_payload: str
    retain: bool = False
