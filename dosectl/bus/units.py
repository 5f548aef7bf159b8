"""Units a payload may use, and how each becomes the standard unit of its kind: standard = factor * value + offset."""

from collections.abc import Mapping

from dosectl.model.signals import SignalKind

# Exact by definition: 1 US gallon = 231 cubic inches of 25.4 mm, 0 degC = 273.15 K (NIST SP 811, appendix B).
US_GALLON_L = 3.785411784
KELVIN_OFFSET = -273.15

Conversion = tuple[float, float]
"""Factor and offset."""

_SAME: Conversion = (1.0, 0.0)
_MILLI: Conversion = (1e-3, 0.0)
_KILO: Conversion = (1e3, 0.0)

_POWER: Mapping[str, Conversion] = {"W": _SAME, "kW": _KILO, "mW": _MILLI}
_CURRENT: Mapping[str, Conversion] = {"A": _SAME, "mA": _MILLI}

UNITS: Mapping[SignalKind, Mapping[str, Conversion]] = {
    SignalKind.ORP: {"mV": _SAME, "V": _KILO},
    SignalKind.PH: {"pH": _SAME},
    SignalKind.WATER_TEMP: {
        "degC": _SAME,
        "°C": _SAME,
        "degF": (5 / 9, -160 / 9),
        "°F": (5 / 9, -160 / 9),
        "K": (1.0, KELVIN_OFFSET),
    },
    SignalKind.FLOW: {
        "L/min": _SAME,
        "L/h": (1 / 60, 0.0),
        "L/s": (60.0, 0.0),
        "m3/h": (1000 / 60, 0.0),
        "m³/h": (1000 / 60, 0.0),
        "gpm": (US_GALLON_L, 0.0),
        "gal/min": (US_GALLON_L, 0.0),
    },
    SignalKind.PUMP: _POWER,
    SignalKind.FREE_CHLORINE: {"mg/L": _SAME, "ppm": _SAME},
    SignalKind.LEVEL: {"%": _SAME},
    SignalKind.FEEDBACK: {**_POWER, **_CURRENT},
    SignalKind.SUNLIGHT: {"%": _SAME},
    SignalKind.SALT: {"g/L": _SAME, "mg/L": _MILLI, "ppm": _MILLI},
    SignalKind.CELL_CURRENT: _CURRENT,
    SignalKind.CELL_VOLTAGE: {"V": _SAME, "mV": _MILLI},
}


def conversion(kind: SignalKind, unit: str) -> Conversion | None:
    """Factor and offset to the kind's standard unit; "" is the standard unit itself, None an unknown unit."""
    return _SAME if not unit else UNITS.get(kind, {}).get(unit)
