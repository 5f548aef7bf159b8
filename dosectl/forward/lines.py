"""Points to line protocol, with the holes of the client's own serialiser closed.

The serialiser leaves a newline in a text raw (the rest of the text becomes a line of its own), lets a name keep a backslash
before its separator, writes 1 and 1.0 as different types (a server then refuses the field for ever), and makes an empty line of
a point without values. Here: control characters become spaces, names lose backslashes, every number and switch is a float, a
name keeps the kind it had first, and a point without values is no line.
"""

import math
import re
from datetime import UTC, datetime, timedelta
from typing import Any

from influxdb_client.client.write.point import Point

from dosectl.model.telemetry import FieldValue, TelemetryPoint

NUMBER, TEXT = "number", "text"
TEXT_LENGTH_MAX = 1000

_POINT: Any = Point  # the package has types, but not for this class
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_CONTROL = re.compile(r"[\x00-\x1f\x7f\x85\u2028\u2029]+")


class LineEncoder:
    """Encodes points; keeps one kind per `measurement.field` for ever."""

    def __init__(self, kinds: dict[str, str]) -> None:
        """kinds : what earlier runs have learnt."""
        self._kinds = dict(kinds)
        self.learned: dict[str, str] = {}
        self.conflicts: int = 0

    def line(self, point: TelemetryPoint) -> str | None:
        """One line with its time in ns, None where no field has a value."""
        measurement = _name(point.measurement).lstrip("#") or "_"  # a line that begins with # would be a comment
        made = _POINT(measurement)
        for tag, text in point.tags:
            made.tag(_name(tag), _tag_value(text))
        any_value = False
        for field, value in point.fields:
            kept = self._kept(measurement, _name(field), value)
            if kept is not None:
                made.field(_name(field), kept)
                any_value = True
        if not any_value:
            return None
        made.time((point.at_utc - _EPOCH) // timedelta(microseconds=1) * 1000)
        return str(made.to_line_protocol())

    def take_learned(self) -> dict[str, str]:
        """Kinds of names that were new since the last call."""
        new, self.learned = self.learned, {}
        return new

    def _kept(self, measurement: str, field: str, value: FieldValue) -> float | str | None:
        """The value as it goes out, None where it does not: not known, not finite, or of another kind than its name."""
        if value is None:
            return None
        kept: float | str = _text(value) if isinstance(value, str) else _number(value)
        if isinstance(kept, float) and not math.isfinite(kept):
            return None
        kind = TEXT if isinstance(kept, str) else NUMBER
        name = f"{measurement}.{field}"
        known = self._kinds.get(name)
        if known is None:
            self._kinds[name] = self.learned[name] = kind
        elif known != kind:
            self.conflicts += 1
            return None
        return kept


def _number(value: float) -> float:
    try:
        return float(value)
    except OverflowError:
        return math.inf  # an integer beyond every double: left out like one


def _clean(text: str) -> str:
    return _CONTROL.sub(" ", text.encode("utf-8", "replace").decode("utf-8"))[:TEXT_LENGTH_MAX]


def _text(text: str) -> str:
    return _clean(text)


def _name(text: str) -> str:
    # An equals sign is legal in a measurement and an escape in a key; servers differ, so no name has one.
    return _clean(text).replace("\\", "_").replace("=", "_").strip() or "_"


def _tag_value(text: str) -> str:
    return _clean(text).replace("\\", "/").strip()
