"""Whatever arrives is a reading in the standard unit or a counted drop with its reason; nothing raises."""

import json
import math
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosectl.bus import drops
from dosectl.bus.decode import PAYLOAD_BYTES_MAX, decode
from dosectl.bus.units import UNITS, conversion
from dosectl.model.instant import Instant
from dosectl.model.signals import Drop, Sample, SignalId, SignalKind
from dosectl.settings.bindings import SignalBinding
from dosectl.settings.tables.signal_kinds import SHAPES

AT = Instant(10.0, datetime(2025, 7, 1, 9, 15, 3, tzinfo=UTC), "b")


def binding(kind: SignalKind = SignalKind.PH, **more: object) -> SignalBinding:
    return SignalBinding(SignalId(kind.value), kind, "probe/x", **more)  # type: ignore[arg-type]


def one(bound: SignalBinding, payload: bytes | str, retained: bool = False) -> Sample | Drop:
    data = payload.encode() if isinstance(payload, str) else payload
    (result,) = decode((bound,), data, AT, retained)
    return result


def raw(bound: SignalBinding, payload: bytes | str) -> float | bool:
    result = one(bound, payload)
    assert isinstance(result, Sample), result
    return result.raw


@pytest.mark.parametrize(
    ("payload", "value"), [("7.2", 7.2), (" 7.2\r\n", 7.2), ("+7", 7.0), ("-1.5e1", -15.0), (".5", 0.5), ("7.", 7.0), ("0", 0.0)]
)
def test_a_plain_number_is_read(payload: str, value: float) -> None:
    assert raw(binding(), payload) == value


@pytest.mark.parametrize(
    ("payload", "code"),
    [
        (b"", "payload.empty"),
        (b"  \n", "payload.empty"),
        (b"7,2", "payload.decimal_comma"),
        (b"NaN", "payload.not_finite"),
        (b"nan", "payload.not_finite"),
        (b"-inf", "payload.not_finite"),
        (b"Infinity", "payload.not_finite"),
        (b"1e999", "payload.not_finite"),
        (b"true", "payload.not_a_number"),
        (b"null", "payload.not_a_number"),
        (b'"7.2"', "payload.text"),
        (b"7.2 pH", "payload.text"),
        (b"7_2", "payload.text"),
        ("٧".encode(), "payload.text"),
        (b"0x1F", "payload.text"),
        (b"offline", "payload.text"),
        (b"\xff\xfe\x00", "payload.binary"),
        (b"7.2\x00", "payload.binary"),
        (b"7" * (PAYLOAD_BYTES_MAX + 1), "payload.too_long"),
        (b"7" * 300_000, "payload.too_long"),
        (b'{"ph":7.2}', "payload.json_without_pointer"),
    ],
)
def test_a_payload_that_is_no_plain_number_is_dropped_with_its_reason(payload: bytes, code: str) -> None:
    result = one(binding(), payload)
    assert isinstance(result, Drop)
    assert result.why == code
    assert len(result.shown) <= 60
    assert result.shown.isprintable()


@pytest.mark.parametrize(
    ("payload", "code"),
    [
        ('{"v":NaN}', "payload.not_finite"),
        ('{"v":-Infinity}', "payload.not_finite"),
        ('{"v":1e999}', "payload.not_finite"),
        ('{"v":' + "9" * 400 + "}", "payload.not_finite"),
        ('{"v":true}', "payload.not_a_number"),
        ('{"v":[7.2]}', "payload.not_a_number"),
        ('{"v":"7.2"}', "payload.text"),
        ('{"v":"7,2"}', "payload.decimal_comma"),
        ('{"v":null}', "payload.missing"),
        ('{"w":7.2}', "payload.missing"),
        ("[7.2]", "payload.missing"),
        ("7.2", "payload.missing"),
        ('{"v":7.2', "payload.not_json"),
        ('{"v":7.2,"v":8.1}', "payload.not_json"),
        ("[" * 4000, "payload.not_json"),
        ("seven", "payload.not_json"),
    ],
)
def test_json_without_a_usable_number_at_the_pointer_is_dropped(payload: str, code: str) -> None:
    result = one(binding(pointer="/v"), payload)
    assert isinstance(result, Drop)
    assert result.why == code


# The document and the results are the examples of RFC 6901, section 5.
RFC = {"foo": ["bar", "baz"], "": 0, "a/b": 1, "c%d": 2, "e^f": 3, "g|h": 4, "i\\j": 5, 'k"l': 6, " ": 7, "m~n": 8}


@pytest.mark.parametrize(
    ("pointer", "value"),
    [("/", 0), ("/a~1b", 1), ("/c%d", 2), ("/e^f", 3), ("/g|h", 4), ("/i\\j", 5), ('/k"l', 6), ("/ ", 7), ("/m~0n", 8)],
)
def test_pointers_follow_the_standards_examples(pointer: str, value: float) -> None:
    assert raw(binding(pointer=pointer), json.dumps(RFC)) == value


def test_a_pointer_reaches_into_arrays_by_plain_index_only() -> None:
    assert raw(binding(pointer="/p/1/v"), '{"p":[{"v":1},{"v":7.4}]}') == 7.4
    for pointer in ("/p/01", "/p/-", "/p/2", "/p/-1", "/p/" + "9" * 30, "p"):
        result = one(binding(pointer=pointer), '{"p":[1,2]}')
        assert isinstance(result, Drop)
        assert result.why == "payload.missing"


# Expected values by hand from definitions: 32 degF = 0 degC, 212 = 100; 1 m3/h = 1000/60 L/min; 1 US gal = 3.785411784 L.
@pytest.mark.parametrize(
    ("kind", "unit", "given_value", "standard"),
    [
        (SignalKind.ORP, "V", 0.7, 700.0),
        (SignalKind.ORP, "mV", 700.0, 700.0),
        (SignalKind.ORP, "", 700.0, 700.0),
        (SignalKind.WATER_TEMP, "degF", 32.0, 0.0),
        (SignalKind.WATER_TEMP, "degF", 212.0, 100.0),
        (SignalKind.WATER_TEMP, "K", 293.15, 20.0),
        (SignalKind.FLOW, "m3/h", 12.0, 200.0),
        (SignalKind.FLOW, "L/h", 600.0, 10.0),
        (SignalKind.FLOW, "gpm", 10.0, 37.85411784),
        (SignalKind.PUMP, "kW", 1.1, 1100.0),
        (SignalKind.FREE_CHLORINE, "ppm", 2.5, 2.5),
        (SignalKind.SALT, "ppm", 4000.0, 4.0),
        (SignalKind.SALT, "mg/L", 4000.0, 4.0),
        (SignalKind.CELL_CURRENT, "mA", 4500.0, 4.5),
    ],
)
def test_units_become_the_standard_one(kind: SignalKind, unit: str, given_value: float, standard: float) -> None:
    assert raw(binding(kind, unit=unit), str(given_value)) == pytest.approx(standard, rel=1e-12, abs=1e-9)


def test_every_unit_the_settings_allow_can_be_converted() -> None:
    for shape in SHAPES:
        for meter in shape.meters:
            for unit in meter.payload_units:
                assert conversion(shape.kind, unit) is not None, (shape.kind, unit)
            assert conversion(shape.kind, meter.unit) == (1.0, 0.0)


def test_an_unknown_unit_is_never_guessed() -> None:
    result = one(binding(SignalKind.ORP, unit="degF"), "700")
    assert isinstance(result, Drop)
    assert result.why == "payload.unit"


def test_scale_and_offset_come_after_the_unit() -> None:
    assert raw(binding(SignalKind.ORP, unit="V", scale=2.0, offset=5.0), "0.3") == 605.0


def test_a_scale_that_makes_it_infinite_is_refused() -> None:
    result = one(binding(scale=1e308), "1e10")
    assert isinstance(result, Drop)
    assert result.why == "payload.not_finite"


@pytest.mark.parametrize("word", ["on", "ON", " On ", "true", "1", "yes"])
def test_on_words_are_on(word: str) -> None:
    assert raw(binding(SignalKind.FLOW, switch=True), word) is True


@pytest.mark.parametrize("word", ["off", "False", "0", "no"])
def test_off_words_are_off(word: str) -> None:
    assert raw(binding(SignalKind.FLOW, switch=True), word) is False


@pytest.mark.parametrize(
    ("payload", "state"), [('{"f":true}', True), ('{"f":0}', False), ('{"f":1.0}', True), ('{"f":"Off"}', False)]
)
def test_a_switch_in_json_is_read(payload: str, state: bool) -> None:
    assert raw(binding(SignalKind.FLOW, switch=True, pointer="/f"), payload) is state


@pytest.mark.parametrize("payload", ["2", "maybe", "onn", "-1", "0.5", "unavailable"])
def test_a_word_that_is_neither_is_unknown_and_not_off(payload: str) -> None:
    result = one(binding(SignalKind.FLOW, switch=True), payload)
    assert isinstance(result, Drop)
    assert result.why == "payload.unknown_word"


def test_words_of_ones_own_replace_the_usual_ones() -> None:
    bound = binding(SignalKind.PUMP, switch=True, on_words=("running",), off_words=("idle",))
    assert raw(bound, "Running") is True
    assert raw(bound, "idle") is False
    assert isinstance(one(bound, "on"), Drop)


def test_a_word_in_both_lists_says_nothing() -> None:
    assert isinstance(one(binding(SignalKind.PUMP, switch=True, on_words=("a",), off_words=("a",)), "a"), Drop)


@pytest.mark.parametrize(
    "stamp",
    ['"2025-07-01T09:15:00Z"', '"2025-07-01T11:15:00+02:00"', "1751361300", "1751361300000", "1751361300.0"],
)
def test_the_sources_time_is_read(stamp: str) -> None:
    result = one(binding(pointer="/v", time_pointer="/t"), f'{{"v":7.2,"t":{stamp}}}')
    assert isinstance(result, Sample)
    assert result.source_utc == datetime(2025, 7, 1, 9, 15, tzinfo=UTC)
    assert result.arrived_at == AT


@pytest.mark.parametrize("stamp", ['"2025-07-01T09:15:00"', '"noon"', "true", "0", "1e300", "-5", "null", "[]", "1e18"])
def test_a_reading_whose_time_cannot_be_read_is_dropped(stamp: str) -> None:
    result = one(binding(pointer="/v", time_pointer="/t"), f'{{"v":7.2,"t":{stamp}}}')
    assert isinstance(result, Drop)
    assert result.why == "payload.time"


def test_the_sources_sequence_is_read_or_the_reading_dropped() -> None:
    bound = binding(pointer="/v", seq_pointer="/n")
    good = one(bound, '{"v":7.2,"n":41}')
    assert isinstance(good, Sample)
    assert good.source_seq == 41
    for bad in ("-1", "1.5", "true", '"41"', "1e30"):
        result = one(bound, f'{{"v":7.2,"n":{bad}}}')
        assert isinstance(result, Drop)
        assert result.why == "payload.sequence"


def test_one_message_can_carry_several_signals_and_one_fault_does_not_cost_the_others() -> None:
    ph = binding(SignalKind.PH, pointer="/ph")
    orp = binding(SignalKind.ORP, pointer="/orp", unit="V")
    temp = binding(SignalKind.WATER_TEMP, pointer="/t")
    first, second, third = decode((ph, orp, temp), b'{"ph":7.2,"orp":"n/a","t":25.5}', AT)
    assert isinstance(first, Sample)
    assert isinstance(second, Drop)
    assert isinstance(third, Sample)
    assert (second.signal, second.why) == ("orp", "payload.text")


def test_the_retain_flag_stays_on_the_sample() -> None:
    result = one(binding(), "7.2", retained=True)
    assert isinstance(result, Sample)
    assert result.retained


@pytest.mark.parametrize("kind", drops.KINDS, ids=lambda kind: str(kind.code))
def test_every_drop_has_words_that_say_where_what_and_the_cure(kind: object) -> None:
    assert isinstance(kind, type(drops.TEXT))
    words = drops.drop_words(Drop(SignalId("ph"), kind.code, AT, "7,4"), "probe/ph")
    assert words.startswith("probe/ph ")
    assert "7,4" in words
    assert "2025-07-01T09:15:03" in words
    assert "{" not in words


_kinds = st.sampled_from(list(SignalKind))
_bindings = st.builds(
    SignalBinding,
    signal=st.just(SignalId("x")),
    kind=_kinds,
    topic=st.just("probe/x"),
    pointer=st.sampled_from([None, "", "/v", "/a/0", "/~0", "v"]),
    unit=st.sampled_from(["", "V", "degF", "K", "L/min", "kW", "ppm", "furlong"]),
    scale=st.floats(),
    offset=st.floats(),
    time_pointer=st.sampled_from([None, "/t"]),
    seq_pointer=st.sampled_from([None, "/n"]),
    switch=st.booleans(),
)
_scalars = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20)
_documents = st.recursive(
    _scalars,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(["v", "t", "n", "a", "~"]), inner, max_size=4),
    max_leaves=8,
).map(lambda document: json.dumps(document).encode())
_payloads = (
    st.binary(max_size=200)
    | _documents
    | st.text(max_size=40).map(lambda text: text.encode())
    | st.floats().map(lambda number: repr(number).encode())
)


@given(bound=st.lists(_bindings, min_size=1, max_size=3), payload=_payloads, retained=st.booleans())
def test_whatever_the_bytes_each_signal_gets_a_finite_sample_or_a_drop(
    bound: list[SignalBinding], payload: bytes, retained: bool
) -> None:
    results = decode(tuple(bound), payload, AT, retained)
    assert len(results) == len(bound)
    for result, wanted in zip(results, bound, strict=True):
        if isinstance(result, Drop):
            assert str(result.why).startswith("payload.")
            assert result.why != "payload.unreadable"
            assert len(result.shown) <= 60
        else:
            assert isinstance(result.raw, bool) is wanted.switch
            assert isinstance(result.raw, bool) or math.isfinite(result.raw)
            assert result.retained is retained


def test_only_kinds_with_a_number_have_units() -> None:
    assert set(UNITS) == {shape.kind for shape in SHAPES if shape.meters}
