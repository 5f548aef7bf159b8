"""Kinds of signals as the file knows them: units, keys, and what is expected of their messages where the file does not say."""

from dataclasses import dataclass
from typing import Any

from pydantic import create_model

from dosectl.model.signals import SignalKind
from dosectl.settings.tables.fields import Strict, flag, identifier, number, one_of, text, words

PROBE_AGE_S = 15.0  # a probe's reading lives max(this, three periods), at most PROBE_AGE_S_MAX; engineering judgement
PROBE_AGE_S_MAX = 180.0
FLOW_AGE_S = 10.0  # flow, pump and feedback: three missed messages of 3 s

_TOPIC = r"^[^$#+\x00][^#+\x00]*$"
_TOPIC_WORDS = "a topic of at most 200 characters without # and +, not beginning with $"
_POINTER = r"^(/([^~/]|~[01])*)+$"
_POINTER_WORDS = "a JSON pointer (RFC 6901) such as /value"


@dataclass(frozen=True, slots=True)
class Meter:
    """The number a signal may carry.

    suffix : last part of its keys; unit : the standard unit; payload_units : what a message may use
    low, high : plausible bounds of thresholds and offsets; sigma : usual standard uncertainty, in the standard unit
    threshold : may serve as a switch, on above a value
    """

    suffix: str
    unit: str
    payload_units: tuple[str, ...]
    low: float
    high: float
    sigma: float = 0.0
    threshold: bool = False


@dataclass(frozen=True, slots=True)
class KindShape:
    """One kind: what it may carry, its usual period [s] and how old it may get [s, None: as a probe]."""

    kind: SignalKind
    words: str
    switch: bool
    meters: tuple[Meter, ...]
    period_s: float
    age_s: float | None = None


_W = Meter("w", "W", ("W", "kW"), 0.5, 5000.0, threshold=True)
_A = Meter("a", "A", ("A", "mA"), 0.01, 100.0, threshold=True)

SHAPES: tuple[KindShape, ...] = (
    KindShape(SignalKind.ORP, "redox electrode", False, (Meter("mv", "mV", ("mV", "V"), -200.0, 200.0, 5.0),), 10.0),
    KindShape(SignalKind.PH, "pH electrode", False, (Meter("ph", "pH", ("pH",), -2.0, 2.0, 0.05),), 10.0),
    KindShape(
        SignalKind.WATER_TEMP, "water temperature", False, (Meter("degc", "degC", ("degC", "degF", "K"), -10.0, 10.0, 0.3),), 60.0
    ),
    KindShape(
        SignalKind.FLOW,
        "water flow in the pipe that the feeders feed into",
        True,
        (Meter("l_min", "L/min", ("L/min", "L/h", "m3/h", "gal/min"), 5.0, 2000.0, threshold=True),),
        3.0,
        FLOW_AGE_S,
    ),
    KindShape(SignalKind.PUMP, "circulation pump runs: contact, or its power", True, (_W,), 3.0, FLOW_AGE_S),
    KindShape(SignalKind.SAMPLE_FLOW, "flow through the probes' sample line", True, (), 3.0, 15.0),
    KindShape(
        SignalKind.FREE_CHLORINE,
        "amperometric chlorine cell",
        False,
        (Meter("mg_l", "mg/L", ("mg/L", "ppm"), -2.0, 2.0, 0.2),),
        10.0,
    ),
    KindShape(
        SignalKind.LEVEL,
        "container: not empty, or its fill",
        True,
        (Meter("percent", "%", ("%",), -50.0, 50.0, 2.0),),
        60.0,
        180.0,
    ),
    KindShape(SignalKind.FEEDBACK, "a feeder runs: contact, or its load", True, (_W, _A), 3.0, FLOW_AGE_S),
    KindShape(SignalKind.COVER, "cover is closed", True, (), 60.0, 180.0),
    KindShape(
        SignalKind.SUNLIGHT,
        "sunlight as a share of a clear sky's: measured, or foretold for the day",
        False,
        (Meter("percent", "%", ("%",), -50.0, 50.0, 10.0),),
        600.0,
        7200.0,
    ),
    KindShape(SignalKind.SALT, "salt in the water", False, (Meter("g_l", "g/L", ("g/L", "mg/L", "ppm"), -3.0, 3.0, 0.2),), 60.0),
    KindShape(SignalKind.CELL_CURRENT, "current of the cell", False, (Meter("a", "A", ("A", "mA"), -5.0, 5.0, 0.1),), 10.0),
    KindShape(SignalKind.CELL_VOLTAGE, "voltage of the cell", False, (Meter("v", "V", ("V", "mV"), -5.0, 5.0, 0.1),), 10.0),
    KindShape(SignalKind.WATER_PATH, "multiport valve stands on filter", True, (), 10.0, 30.0),
    KindShape(SignalKind.STOP_INPUT, "local stop or service isolator: on is stop", True, (), 10.0, 30.0),
    KindShape(SignalKind.PRESENCE, "button at the plant: on is pressed", True, (), 10.0, 30.0),
)

_BY_KIND = {shape.kind: shape for shape in SHAPES}


def shape_of(kind: SignalKind) -> KindShape:
    """The shape of a kind."""
    return _BY_KIND[kind]


def usual_age_s(shape: KindShape, period_s: float) -> float:
    """How old a signal may get where the file does not say [s]."""
    if shape.age_s is not None:
        return shape.age_s
    return min(max(PROBE_AGE_S, 3.0 * period_s), PROBE_AGE_S_MAX)


def signal_model(shape: KindShape) -> type[Strict]:
    """The model of a table `[signals.<name>]` of that kind."""
    fields: dict[str, Any] = {
        "kind": (
            str,
            one_of(shape.kind.value, *(kind.value for kind in SignalKind), why="kind; left out where the name is the kind"),
        ),
        "topic": (str, text(why="topic of its messages", pattern=_TOPIC, accepted=_TOPIC_WORDS, longest=200)),
        "pointer": (str | None, _pointer("place of the value in a JSON payload; left out: the payload is the value")),
        "time_pointer": (
            str | None,
            _pointer("place of the source's time: RFC 3339, or seconds since 1970; left out: time of arrival"),
        ),
        "seq_pointer": (
            str | None,
            _pointer("place of the source's sequence number, by which repeats and late messages are known"),
        ),
        "period_s": (float, number(shape.period_s, ge=0.1, le=600.0, unit="s", why="a message comes at least this often")),
        "age_s_max": (
            float | None,
            number(
                None,
                ge=1.0,
                le=shape.age_s or PROBE_AGE_S_MAX,
                unit="s",
                why="older than this it is unknown; left out: " + _age_words(shape),
            ),
        ),
        "edges": (bool, flag(why="the source also publishes each change at once, not only each period")),
    }
    if shape.meters:
        fields |= _meter_fields(shape)
    if shape.switch:
        # "open" is flow for a valve and no flow for a contact: taken for neither, unless the owner says which.
        cover = shape.kind is SignalKind.COVER
        on, off = (("closed",), ("open",)) if cover else ((), ())
        fields["on_words"] = (list[str], words(("on", "true", "1", "yes", *on), why="payloads that mean on, in any case"))
        fields["off_words"] = (list[str], words(("off", "false", "0", "no", *off), why="payloads that mean off, in any case"))
    if shape.kind is SignalKind.FEEDBACK:
        why = "it is measured at the load (current, motion), not echoed from the command; a load in W or A always is"
        fields["at_load"] = (bool | None, flag(None, why=why))
    return create_model(f"signal_{shape.kind.value}", __base__=Strict, **fields)


def _meter_fields(shape: KindShape) -> dict[str, Any]:
    units = tuple(unit for meter in shape.meters for unit in meter.payload_units)
    usual = "left out: a switch" if shape.switch else f"left out: {shape.meters[0].unit}"
    fields: dict[str, Any] = {
        "unit": (str | None, one_of(None, *units, why=f"unit of the payload; {usual}")),
        "scale": (
            float,
            number(1.0, ge=-1e6, le=1e6, unit="1", why="value = offset + scale * payload, after the unit was converted"),
        ),
    }
    for meter in shape.meters:
        end, unit = meter.suffix, meter.unit
        span = max(abs(meter.low), abs(meter.high))
        fields[f"offset_{end}"] = (float, number(0.0, ge=-span, le=span, unit=unit, why="see scale"))
        if meter.threshold:
            why = "a meter used as a switch: on above this"
            fields[f"on_above_{end}"] = (float | None, number(None, ge=meter.low, le=meter.high, unit=unit, why=why))
            continue
        fields["calibration_slope"] = (
            float,
            number(1.0, ge=0.5, le=1.5, unit="1", why="true = offset + slope * shown, by calibration"),
        )
        fields[f"calibration_offset_{end}"] = (
            float,
            number(0.0, ge=meter.low, le=meter.high, unit=unit, why="see calibration_slope"),
        )
        fields[f"sigma_{end}"] = (
            float,
            number(
                meter.sigma, ge=meter.sigma / 20, le=meter.sigma * 10, unit=unit, why="standard uncertainty; usual home probe"
            ),
        )
        fields["partner"] = (
            str | None,
            identifier(None, why="a second signal of the same kind that this one is checked against"),
        )
    return fields


def _pointer(why: str) -> Any:
    return text(None, why=why, pattern=_POINTER, accepted=_POINTER_WORDS, longest=120)


def _age_words(shape: KindShape) -> str:
    if shape.age_s is not None:
        return f"{shape.age_s:g} s"
    return f"three periods, {PROBE_AGE_S:g} to {PROBE_AGE_S_MAX:g} s"
