"""Full inputs of the step as bytes and back, without loss: doubles as doubles, every field, every order.

A capture names its classes and their fields at its head, so that a later version that has added a field (with a default) still
reads it; values then follow as tagged binary, zlib over all. No text form of a number is ever made.
"""

import math
import struct
import zlib
from collections.abc import Callable
from dataclasses import fields
from datetime import datetime
from enum import IntEnum
from typing import Any

from dosectl.model.instant import Instant
from dosectl.model.requests import Place, Request
from dosectl.model.signals import Drop, ForeignCommand, Health, NodeReport, Sample
from dosectl.model.snapshot import Snapshot
from dosectl.store.faults import JournalDamaged
from dosectl.store.instants import from_us, to_us

FORMAT = 1
_CLASSES: tuple[type[Any], ...] = (Snapshot, Instant, Sample, Drop, Request, NodeReport, ForeignCommand, Health)
_NUMBER_OF = {kind: number for number, kind in enumerate(_CLASSES)}
_FIELDS = {kind: tuple(spec.name for spec in fields(kind)) for kind in _CLASSES}
_MONO_S_MAX = 1e12  # beyond it a moment is written field by field
_DOUBLE = struct.Struct("<d")


class _Tag(IntEnum):
    """What the next value is."""

    NONE = 0
    FALSE = 1
    TRUE = 2
    INT = 3
    FLOAT = 4
    TEXT = 5
    TUPLE = 6
    TIME = 7
    PLACE = 8
    OBJECT = 9
    AGAIN = 10
    MOMENT = 11


class _Writer:
    def __init__(self) -> None:
        self.out = bytearray()
        self._texts: dict[str, int] = {}
        self._instants: dict[int, int] = {}
        self._kept: list[Any] = []
        self._offset_us = 0

    def varint(self, number: int) -> None:
        while number > 127:
            self.out.append(number & 127 | 128)
            number >>= 7
        self.out.append(number)

    def text(self, text: str) -> None:
        """A text once in full, then by its number."""
        known = self._texts.get(text)
        if known is not None:
            self.varint(known + 1)
            return
        self._texts[text] = len(self._texts)
        body = text.encode("utf-8", "surrogatepass")
        self.varint(0)
        self.varint(len(body))
        self.out += body

    def value(self, value: Any) -> None:
        kind = type(value)
        write = _WRITERS.get(kind)
        if write is not None:
            write(self, value)
        elif kind in _NUMBER_OF:
            self._object(value, kind)
        elif isinstance(value, str):
            _write_text(self, str(value))
        else:
            raise TypeError(f"a capture can't hold a {kind.__name__}")

    def _object(self, value: Any, kind: type[Any]) -> None:
        if kind is Instant:
            # Many samples of a step share one moment.
            known = self._instants.get(id(value))
            if known is not None:
                self.out.append(_Tag.AGAIN)
                self.varint(known)
                return
            self._instants[id(value)] = len(self._instants)
            self._kept.append(value)  # alive until the end, or another object could get its id
            if math.isfinite(value.mono_s) and abs(value.mono_s) < _MONO_S_MAX:
                self._moment(value)
                return
        self.out.append(_Tag.OBJECT)
        self.out.append(_NUMBER_OF[kind])
        for name in _FIELDS[kind]:
            self.value(getattr(value, name))

    def _moment(self, value: Instant) -> None:
        """Both clocks of a machine run alike: UTC as its distance from where the last moment makes it expected, in whole us."""
        at_us, mono_us = to_us(value.utc), round(value.mono_s * 1e6)
        self.out.append(_Tag.MOMENT)
        self.out += _DOUBLE.pack(value.mono_s)
        _varint_signed(self, at_us - mono_us - self._offset_us)
        self._offset_us = at_us - mono_us
        self.text(value.boot)


def _varint_signed(writer: _Writer, value: int) -> None:
    writer.varint(value * 2 if value >= 0 else -value * 2 - 1)


def _write_int(writer: _Writer, value: int) -> None:
    writer.out.append(_Tag.INT)
    _varint_signed(writer, value)


def _write_float(writer: _Writer, value: float) -> None:
    writer.out.append(_Tag.FLOAT)
    writer.out += _DOUBLE.pack(value)


def _write_text(writer: _Writer, value: str) -> None:
    writer.out.append(_Tag.TEXT)
    writer.text(value)


def _write_tuple(writer: _Writer, value: tuple[Any, ...]) -> None:
    writer.out.append(_Tag.TUPLE)
    writer.varint(len(value))
    for item in value:
        writer.value(item)


def _write_time(writer: _Writer, value: datetime) -> None:
    writer.out.append(_Tag.TIME)
    _varint_signed(writer, to_us(value))


def _write_place(writer: _Writer, value: Place) -> None:
    writer.out.append(_Tag.PLACE)
    writer.text(value.value)


_WRITERS: dict[type[Any], Callable[[_Writer, Any], None]] = {
    type(None): lambda writer, _: writer.out.append(_Tag.NONE),
    bool: lambda writer, value: writer.out.append(_Tag.TRUE if value else _Tag.FALSE),
    int: _write_int,
    float: _write_float,
    str: _write_text,
    tuple: _write_tuple,
    datetime: _write_time,
    Place: _write_place,
}


class _Reader:
    def __init__(self, body: bytes) -> None:
        self._body = body
        self._at = 0
        self._texts: list[str] = []
        self._instants: list[Any] = []
        self._offset_us = 0
        self._classes: list[tuple[type[Any], tuple[str, ...]]] = []

    def varint(self) -> int:
        number = shift = 0
        while True:
            byte = self._body[self._at]
            self._at += 1
            number |= (byte & 127) << shift
            if byte < 128:
                return number
            shift += 7

    def signed(self) -> int:
        number = self.varint()
        return -(number + 1) // 2 if number & 1 else number // 2

    def text(self) -> str:
        known = self.varint()
        if known:
            return self._texts[known - 1]
        length = self.varint()
        text = self._body[self._at : self._at + length].decode("utf-8", "surrogatepass")
        self._at += length
        self._texts.append(text)
        return text

    def classes(self) -> None:
        """The classes and fields as the writer had them."""
        by_name = {kind.__name__: kind for kind in _CLASSES}
        for _ in range(self.varint()):
            kind = by_name[self.text()]
            self._classes.append((kind, tuple(self.text() for _ in range(self.varint()))))

    def value(self) -> Any:
        tag = self._body[self._at]
        self._at += 1
        match tag:
            case _Tag.NONE:
                return None
            case _Tag.FALSE | _Tag.TRUE:
                return tag == _Tag.TRUE
            case _Tag.INT:
                return self.signed()
            case _Tag.FLOAT:
                self._at += 8
                return _DOUBLE.unpack_from(self._body, self._at - 8)[0]
            case _Tag.TEXT:
                return self.text()
            case _Tag.TUPLE:
                return tuple(self.value() for _ in range(self.varint()))
            case _Tag.TIME:
                return from_us(self.signed())
            case _Tag.PLACE:
                return Place(self.text())
            case _Tag.OBJECT:
                return self._object()
            case _Tag.AGAIN:
                return self._instants[self.varint()]
            case _Tag.MOMENT:
                return self._moment()
        raise ValueError(f"unknown tag {tag}")

    def _moment(self) -> Instant:
        self._at += 8
        mono_s = _DOUBLE.unpack_from(self._body, self._at - 8)[0]
        self._offset_us += self.signed()
        made = Instant(mono_s, from_us(round(mono_s * 1e6) + self._offset_us), self.text())
        self._instants.append(made)
        return made

    def _object(self) -> Any:
        kind, names = self._classes[self._body[self._at]]
        self._at += 1
        place = len(self._instants)
        if kind is Instant:
            self._instants.append(None)
        known = _FIELDS[kind]
        found = {name: self.value() for name in names}
        made = kind(**{name: value for name, value in found.items() if name in known})
        if kind is Instant:
            self._instants[place] = made
        return made


def encode(snapshots: tuple[Snapshot, ...]) -> bytes:
    """A capture of some snapshots, in order. Raises TypeError for a field of a type that a snapshot does not have."""
    writer = _Writer()
    writer.varint(len(_CLASSES))
    for kind in _CLASSES:
        writer.text(kind.__name__)
        writer.varint(len(_FIELDS[kind]))
        for name in _FIELDS[kind]:
            writer.text(name)
    writer.value(snapshots)
    return bytes([FORMAT]) + zlib.compress(bytes(writer.out), 6)


def decode(body: bytes) -> tuple[Snapshot, ...]:
    """The snapshots of a capture. Raises JournalDamaged where the bytes are no capture, or one of a newer version."""
    try:
        if body[0] != FORMAT:
            raise ValueError(f"format {body[0]}, known: {FORMAT}")
        reader = _Reader(zlib.decompress(body[1:]))
        reader.classes()
        snapshots: tuple[Snapshot, ...] = reader.value()
    except (IndexError, KeyError, TypeError, ValueError, zlib.error, struct.error) as error:
        raise JournalDamaged(
            f"a capture of inputs can't be read ({error}); this stretch can't be replayed, others can"
        ) from error
    return snapshots
