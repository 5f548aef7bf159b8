"""Durable state goes out and comes back without loss, or is refused."""

import math
import struct
from dataclasses import dataclass
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosectl.model.instant import Instant
from dosectl.model.reasons import Code, Reason
from dosectl.model.requests import RequestId
from dosectl.model.water_tests import Quantity, WaterTest
from dosectl.store.durable import PartCodec
from dosectl.store.faults import JournalDamaged


@dataclass(frozen=True, slots=True)
class Part:
    """A durable part like the ones of the step."""

    number: float
    maybe: float | None
    count: int
    reasons: tuple[Reason, ...] = ()
    pairs: tuple[tuple[str, tuple[float, ...]], ...] = ()


CODEC = PartCodec(Part)
FINITE = st.floats(allow_nan=False, allow_infinity=False)
FACT = FINITE | st.integers(-(2**53), 2**53) | st.booleans() | st.text(max_size=20)


def bits(value: float) -> bytes:
    return struct.pack("<d", value)


@given(FINITE, FINITE | st.none(), st.integers(), st.lists(st.tuples(st.text(max_size=5), FACT), max_size=4))
def test_every_double_and_every_fact_comes_back_as_it_was(
    number: float, maybe: float | None, count: int, facts: list[tuple[str, float | int | bool | str]]
) -> None:
    why = Reason(Code("a.b"), tuple(facts), Instant(number, datetime(2026, 1, 2, 3, 4, 5, 678901, tzinfo=UTC), "boot"))
    part = Part(number, maybe, count, (why,), (("x", (number, -number)),))
    back = CODEC.decode(CODEC.encode(part))
    assert back == part
    assert bits(back.number) == bits(number)
    assert [type(fact) for _, fact in back.reasons[0].facts] == [type(fact) for _, fact in facts]


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_a_number_that_is_not_finite_is_refused_not_stored_as_unknown(bad: float) -> None:
    for part in (Part(bad, None, 1), Part(1.0, bad, 1), Part(1.0, None, 1, (), (("x", (bad,)),))):
        with pytest.raises(ValueError, match="not finite"):
            CODEC.encode(part)


def test_a_text_that_looks_like_a_number_that_is_not_finite_is_no_reason_to_refuse() -> None:
    why = Reason(Code("a.b"), (("text", ",NaN"),), Instant(1.0, datetime(2026, 1, 2, tzinfo=UTC), "[Infinity"))
    part = Part(1.0, None, 1, (why,))
    assert CODEC.decode(CODEC.encode(part)) == part


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"[",
        b"[]",
        b"\xff\xfe",
        b'[{"number":"1.0","maybe":null,"count":1}]',
        b'[{"number":true,"maybe":null,"count":1}]',
        b'[{"number":1.0,"maybe":null,"count":1,"new":2}]',
        b'[{"number":1.0,"maybe":NaN,"count":1}]',
        b'[{"number":1.0,"maybe":null}]',
        b'[{"number":1.0,"maybe":null,"count":1.5}]',
    ],
)
def test_bytes_that_are_not_exactly_the_part_are_refused_with_a_way_on(body: bytes) -> None:
    with pytest.raises(JournalDamaged, match="Install the version that wrote"):
        CODEC.decode(body)


def test_a_field_added_later_takes_its_default() -> None:
    assert CODEC.decode(b'[{"number":1.0,"maybe":null,"count":1}]') == Part(1.0, None, 1)


def test_water_tests_with_times_and_quantities_come_back() -> None:
    codec = PartCodec(WaterTest)
    test = WaterTest(RequestId("r"), Quantity.PH, 7.4, 0.1, "strip", datetime(2026, 5, 1, tzinfo=UTC), 1.5, 2.5, "ann", True)
    assert codec.decode(codec.encode(test)) == test
