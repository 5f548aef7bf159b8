"""Captured inputs are the very inputs: nothing lost, nothing rounded, nothing reordered."""

import struct
import zlib
from dataclasses import astuple
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dosectl.model.instant import Instant
from dosectl.model.reasons import Code
from dosectl.model.requests import Place, Request, RequestId
from dosectl.model.signals import Drop, ForeignCommand, Health, NodeId, NodeReport, Sample, SignalId
from dosectl.model.snapshot import Snapshot
from dosectl.store.capture import decode, encode
from dosectl.store.faults import JournalDamaged

TEXT = st.text(max_size=12)
NUMBER = st.floats(allow_nan=True, allow_infinity=True)
TIME = st.datetimes(datetime(1960, 1, 1), datetime(2100, 1, 1), timezones=st.just(UTC))  # noqa: DTZ001
MOMENT = st.builds(Instant, NUMBER, TIME, TEXT)
CODE = st.builds(Code, TEXT)
SAMPLE = st.builds(
    Sample, st.builds(SignalId, TEXT), NUMBER | st.booleans(), MOMENT, TIME | st.none(), st.integers() | st.none(), st.booleans()
)
HEALTH = st.builds(
    Health, st.booleans(), st.integers(0, 2**50) | st.none(), st.booleans(), NUMBER | st.none(), st.booleans(), st.integers(0, 9),
    NUMBER, NUMBER | st.none(), st.lists(CODE, max_size=2).map(tuple),
)  # fmt: skip
FACTS = st.lists(st.tuples(TEXT, NUMBER | st.integers() | st.booleans() | TEXT), max_size=3).map(tuple)
REQUEST = st.builds(Request, st.builds(RequestId, TEXT), CODE, FACTS, TEXT, st.sampled_from(Place), TIME)
DROP = st.builds(Drop, st.builds(SignalId, TEXT), CODE, MOMENT, TEXT)
NODE = st.builds(NodeReport, st.builds(NodeId, TEXT), TEXT, st.integers(0, 2**40), TEXT, st.booleans(), MOMENT)
SNAPSHOT = st.builds(
    Snapshot,
    st.integers(0, 2**40),
    MOMENT,
    st.lists(SAMPLE, max_size=4).map(tuple),
    HEALTH,
    st.lists(REQUEST, max_size=2).map(tuple),
    st.lists(DROP, max_size=2).map(tuple),
    st.lists(NODE, max_size=2).map(tuple),
    st.lists(st.builds(ForeignCommand, TEXT, TEXT, MOMENT), max_size=1).map(tuple),
)


def exact(value: object) -> object:
    """The value with doubles as their bits and types beside values, so that 1, 1.0 and True differ and NaN equals itself."""
    if isinstance(value, float):
        return struct.pack("<d", value)
    if isinstance(value, tuple):
        return tuple(exact(item) for item in value)
    return (type(value).__name__, value)


@settings(max_examples=150)
@given(st.lists(SNAPSHOT, min_size=1, max_size=3).map(tuple))
def test_snapshots_come_back_bit_for_bit(snapshots: tuple[Snapshot, ...]) -> None:
    back = decode(encode(snapshots))
    assert [type(item) for item in back] == [Snapshot] * len(snapshots)
    assert exact(tuple(astuple(item) for item in back)) == exact(tuple(astuple(item) for item in snapshots))


def test_a_capture_written_before_a_field_was_added_takes_its_default() -> None:
    now = Instant(1.0, datetime(2026, 1, 1, tzinfo=UTC), "b")
    health = Health(True, None, True, None, True)
    snapshot = Snapshot(1, now, (), health, foreign=(ForeignCommand("t", "o", now),))
    body = encode((snapshot,))
    older = zlib.decompress(body[1:]).replace(b"\x00\x07foreign", b"\x00\x07unknown")
    back = decode(body[:1] + zlib.compress(older))
    assert back == (Snapshot(1, now, (), health),)


@pytest.mark.parametrize(
    "body", [b"", b"\x01", b"\x09" + zlib.compress(b"x"), b"\x01" + zlib.compress(b"\x01\x00\x03abc\x00"), b"\x01zzz"]
)
def test_bytes_that_are_no_capture_are_refused(body: bytes) -> None:
    with pytest.raises(JournalDamaged, match="can't be read"):
        decode(body)
