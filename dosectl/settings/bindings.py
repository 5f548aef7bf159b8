"""How a signal is found in messages, as the settings file says it: topic, place in the payload, unit, words."""

from dataclasses import dataclass

from dosectl.model.signals import SignalId, SignalKind


@dataclass(frozen=True, slots=True)
class SignalBinding:
    """One signal's place on the bus.

    pointer : RFC 6901 pointer into a JSON payload, None for a plain payload
    unit : unit of the payload's number; converted to the kind's standard unit, then `offset + scale * value`
    time_pointer, seq_pointer : where the source puts its time (ISO 8601 or epoch) and its sequence number
    on_words, off_words : what a switch payload says, lower case
    switch : the payload is a switch state, not a number
    """

    signal: SignalId
    kind: SignalKind
    topic: str
    pointer: str | None = None
    unit: str = ""
    scale: float = 1.0
    offset: float = 0.0
    time_pointer: str | None = None
    seq_pointer: str | None = None
    switch: bool = False
    on_words: tuple[str, ...] = ("on", "true", "1", "yes")
    off_words: tuple[str, ...] = ("off", "false", "0", "no")
