"""Every point becomes one line of the protocol, or none; nothing in it can break out."""

import math
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st
from influxdb_client.client.write.point import Point

from dosectl.forward.lines import LineEncoder
from dosectl.model.telemetry import FieldValue, TelemetryPoint
from tests.forward.fake_server import FIELD, LINE

AT = datetime(2026, 6, 1, 6, 0, 0, 123456, tzinfo=UTC)
AT_NS = "1780293600123456000"


def line(*fields: tuple[str, FieldValue], tags: tuple[tuple[str, str], ...] = (), measurement: str = "water") -> str | None:
    return LineEncoder({}).line(TelemetryPoint(measurement, tags, fields, AT))


def test_a_plain_point() -> None:
    assert (
        line(("ph", 7.25), ("orp_mv", 700.0), tags=(("pool", "back yard"),))
        == f"water,pool=back\\ yard orp_mv=700,ph=7.25 {AT_NS}"
    )


def test_time_is_exact_to_the_microsecond() -> None:
    made = LineEncoder({}).line(TelemetryPoint("w", (), (("a", 1.0),), datetime(2261, 12, 31, 23, 59, 59, 999999, tzinfo=UTC)))
    assert made is not None
    assert made.endswith("999999000")


def test_a_newline_in_a_text_stays_within_its_line() -> None:
    made = line(("note", 'two\nlines "quoted" back\\slash'))
    assert made == f'water note="two lines \\"quoted\\" back\\\\slash" {AT_NS}'


def test_the_clients_own_serialiser_still_has_the_hole_that_the_encoder_closes() -> None:
    assert "\n" in Point("water").field("note", "two\nlines").to_line_protocol()


@pytest.mark.parametrize("value", [None, math.nan, math.inf, -math.inf, 10**400])
def test_a_value_that_is_not_known_or_not_finite_is_left_out_and_a_point_without_values_is_no_line(value: float | None) -> None:
    assert line(("ph", value)) is None
    assert line(("ph", value), ("orp_mv", 1.0)) == f"water orp_mv=1 {AT_NS}"
    assert line() is None


def test_whole_numbers_and_switches_are_floats_like_all_other_numbers() -> None:
    assert line(("n", 3), ("on", True), ("off", False)) == f"water n=3,off=0,on=1 {AT_NS}"


def test_a_name_keeps_the_kind_it_had_first_also_after_a_restart() -> None:
    encoder = LineEncoder({})
    assert encoder.line(TelemetryPoint("water", (), (("state", "ok"), ("ph", 7)), AT)) == f'water ph=7,state="ok" {AT_NS}'
    kinds = encoder.take_learned()
    assert kinds == {"water.state": "text", "water.ph": "number"}
    again = LineEncoder(kinds)
    assert again.line(TelemetryPoint("water", (), (("state", 1.0), ("ph", 7.5)), AT)) == f"water ph=7.5 {AT_NS}"
    assert again.line(TelemetryPoint("water", (), (("ph", "seven"),), AT)) is None
    assert again.conflicts == 2
    assert again.take_learned() == {}


def test_an_unknown_value_does_not_settle_the_kind_of_a_name() -> None:
    encoder = LineEncoder({})
    assert encoder.line(TelemetryPoint("water", (), (("x", math.nan),), AT)) is None
    assert encoder.line(TelemetryPoint("water", (), (("x", "text"),), AT)) == f'water x="text" {AT_NS}'


def test_a_measurement_that_would_be_a_comment_and_an_empty_tag() -> None:
    assert line(("a", 1.0), tags=(("empty", ""), ("full", "x")), measurement="#water") == f"water,full=x a=1 {AT_NS}"


ANY_TEXT = st.text(st.characters(codec=None, exclude_categories=()), max_size=12) | st.sampled_from(
    ["\\", "a\\", "\\,", 'x"', "a=b", "a,b", " ", "\n", "\r\n", "#", "\u2028", "\ud800"]
)
VALUE = st.floats() | st.integers() | st.booleans() | ANY_TEXT | st.none()


@given(ANY_TEXT, st.lists(st.tuples(ANY_TEXT, ANY_TEXT), max_size=3), st.lists(st.tuples(ANY_TEXT, VALUE), max_size=4))
def test_whatever_the_point_it_is_one_line_of_the_grammar_with_no_field_made_up(
    measurement: str, tags: list[tuple[str, str]], fields: list[tuple[str, FieldValue]]
) -> None:
    made = LineEncoder({}).line(TelemetryPoint(measurement, tuple(tags), tuple(fields), AT))
    if made is None:
        return
    found = LINE.fullmatch(made)
    assert found is not None, made
    assert found.group(4) == AT_NS
    assert len(FIELD.findall(found.group(3))) <= len(fields)
    made.encode("utf-8")
