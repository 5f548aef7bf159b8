"""From a payload to samples, or to the reason why not. Pure; whatever the bytes, nothing is raised."""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from dosectl.bus import drops, pointers
from dosectl.bus.units import conversion
from dosectl.model.instant import Instant
from dosectl.model.reasons import ReasonKind
from dosectl.model.signals import Drop, Sample
from dosectl.settings.bindings import SignalBinding

PAYLOAD_BYTES_MAX = 4096
# Epoch numbers above this are milliseconds: as seconds it would be the year 5138, as milliseconds it is 1973.
EPOCH_MS_FROM = 1e11
_TIMES = (datetime(2000, 1, 1, tzinfo=UTC), datetime(2200, 1, 1, tzinfo=UTC))

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)
_COMMA = re.compile(r"[+-]?\d+,\d+", re.ASCII)
_NOT_FINITE = frozenset({"nan", "inf", "infinity"})
_CONTROL = re.compile(r"[\x00-\x08\x0e-\x1f\x7f]")


class _Refused(Exception):  # never leaves this file
    def __init__(self, why: ReasonKind) -> None:
        self.why = why


@dataclass(frozen=True, slots=True)
class _Parsed:
    """A payload as text; its JSON is read once for all signals of a topic. `trouble`: why it is no JSON."""

    text: str
    document: Any
    trouble: ReasonKind | None


def decode(bindings: Sequence[SignalBinding], payload: bytes, at: Instant, retained: bool = False) -> tuple[Sample | Drop, ...]:
    """What one message says of each signal bound to its topic, in the order of the bindings: a Sample or a Drop for each.

    The retain flag is kept on the samples: whether a retained one may be believed is judged with the other marks of a message.
    """
    try:
        parsed = _parsed(payload, any(binding.pointer is not None for binding in bindings))
    except _Refused as refused:
        return tuple(_drop(binding, refused.why, payload, at) for binding in bindings)
    return tuple(_one(binding, parsed, payload, at, retained) for binding in bindings)


def _one(binding: SignalBinding, parsed: _Parsed, payload: bytes, at: Instant, retained: bool) -> Sample | Drop:
    try:
        raw = _value(binding, parsed)
        sent = None if binding.time_pointer is None else _time(_at(parsed, binding.time_pointer, drops.TIME))
        seq = None if binding.seq_pointer is None else _sequence(_at(parsed, binding.seq_pointer, drops.SEQUENCE))
    except _Refused as refused:
        return _drop(binding, refused.why, payload, at)
    except Exception:  # noqa: BLE001  # a fault in reading one message must cost that message only
        return _drop(binding, drops.UNREADABLE, payload, at)
    return Sample(binding.signal, raw, at, sent, seq, retained)


def _drop(binding: SignalBinding, why: ReasonKind, payload: bytes, at: Instant) -> Drop:
    return Drop(binding.signal, why.code, at, drops.shown(payload))


def _parsed(payload: bytes, is_json: bool) -> _Parsed:
    if len(payload) > PAYLOAD_BYTES_MAX:
        raise _Refused(drops.TOO_LONG)
    try:
        text = payload.decode("utf-8").strip()
    except UnicodeDecodeError:
        raise _Refused(drops.BINARY) from None
    if _CONTROL.search(text):
        raise _Refused(drops.BINARY)
    if not text:
        raise _Refused(drops.EMPTY)
    if not is_json:
        return _Parsed(text, None, drops.JSON_FOUND)
    try:
        return _Parsed(text, pointers.parse(text), None)
    except pointers.NotFinite:
        return _Parsed(text, None, drops.NOT_FINITE)
    except (ValueError, RecursionError):
        return _Parsed(text, None, drops.NOT_JSON)


def _at(parsed: _Parsed, pointer: str, why: ReasonKind) -> Any:
    if parsed.trouble is not None:
        raise _Refused(parsed.trouble)
    found = pointers.resolve(parsed.document, pointer)
    if found is pointers.MISSING or found is None:
        raise _Refused(why)
    return found


def _value(binding: SignalBinding, parsed: _Parsed) -> float | bool:
    if binding.pointer is not None:
        found = _at(parsed, binding.pointer, drops.MISSING)
        return _switch(binding, _word(found)) if binding.switch else _standard(binding, _json_number(found))
    if parsed.text[0] in "{[":
        raise _Refused(drops.JSON_FOUND)
    return _switch(binding, parsed.text) if binding.switch else _standard(binding, _plain_number(parsed.text))


def _word(found: Any) -> str:
    if isinstance(found, bool):
        return "true" if found else "false"
    if isinstance(found, float) and found.is_integer():
        return str(int(found))
    if isinstance(found, str | int | float):
        return str(found)
    raise _Refused(drops.WORD)


def _switch(binding: SignalBinding, word: str) -> bool:
    word = word.strip().lower()
    is_on, is_off = word in binding.on_words, word in binding.off_words
    if is_on == is_off:
        raise _Refused(drops.WORD)
    return is_on


def _json_number(found: Any) -> float:
    if isinstance(found, str):
        raise _Refused(_text_trouble(found))
    if isinstance(found, bool) or not isinstance(found, int | float):
        raise _Refused(drops.NOT_A_NUMBER)
    try:
        return float(found)
    except OverflowError:
        raise _Refused(drops.NOT_FINITE) from None


def _plain_number(text: str) -> float:
    if _NUMBER.fullmatch(text):
        return float(text)
    if text.lower() in ("true", "false", "null", "none"):
        raise _Refused(drops.NOT_A_NUMBER)
    raise _Refused(_text_trouble(text))


def _text_trouble(text: str) -> ReasonKind:
    if _COMMA.fullmatch(text.strip()):
        return drops.COMMA
    return drops.NOT_FINITE if text.strip().lstrip("+-").lower() in _NOT_FINITE else drops.TEXT


def _standard(binding: SignalBinding, number: float) -> float:
    units = conversion(binding.kind, binding.unit)
    if units is None:
        raise _Refused(drops.UNIT)
    factor, offset = units
    value = binding.offset + binding.scale * (number * factor + offset)
    if not math.isfinite(value):
        raise _Refused(drops.NOT_FINITE)
    return value


def _time(found: Any) -> datetime:
    try:
        if isinstance(found, str):
            stamp = datetime.fromisoformat(found)
            if stamp.tzinfo is None:  # whose midnight? A guess would age a reading by hours
                raise _Refused(drops.TIME)
            stamp = stamp.astimezone(UTC)
        elif isinstance(found, int | float) and not isinstance(found, bool):
            stamp = datetime.fromtimestamp(found / 1000 if found >= EPOCH_MS_FROM else found, UTC)
        else:
            raise _Refused(drops.TIME)
    except (ValueError, OverflowError, OSError):
        raise _Refused(drops.TIME) from None
    if not _TIMES[0] <= stamp <= _TIMES[1]:
        raise _Refused(drops.TIME)
    return stamp


def _sequence(found: Any) -> int:
    if isinstance(found, float) and found.is_integer():
        found = int(found)
    if isinstance(found, bool) or not isinstance(found, int) or not 0 <= found < 2**63:
        raise _Refused(drops.SEQUENCE)
    return found
