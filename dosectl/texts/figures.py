"""Numbers and moments as a person reads them: sensible digits, local time."""

from datetime import datetime, tzinfo

from dosectl.model.reasons import Fact
from dosectl.texts.languages import filled, translated

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def number_text(value: float, name: str = "") -> str:
    """A number with sensible digits: pH two decimals, else about three significant digits and never an exponent."""
    if value != value or value in (float("inf"), float("-inf")):
        return "-"
    if isinstance(value, int):
        return str(value)
    if name == "ph" or name.endswith("_ph") or name.startswith("ph_"):
        return f"{value:.2f}".rstrip("0").rstrip(".") if value == round(value, 1) else f"{value:.2f}"
    size = abs(value)
    decimals = 0 if size >= 100.0 else 1 if size >= 10.0 else 2 if size >= 0.1 or size == 0.0 else 4
    text = f"{value:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def moment_text(utc: datetime, zone: tzinfo, now: datetime | None = None, language: str = "en") -> str:
    """A moment in local time: `10:42` on the day of `now`, else `1 Jun 10:42`; the year only where it is another one.

    In the hour that the clock shows twice: which of the two, by its distance from UTC.
    """
    local = utc.astimezone(zone)
    clock = f"{local:%H:%M}{_which(local)}"
    today = None if now is None else now.astimezone(zone)
    if today is not None and today.date() == local.date():
        return clock
    year = f" {local.year}" if today is not None and today.year != local.year else ""
    day = filled("{day} {month}", language, day=str(local.day), month=translated(MONTHS[local.month - 1], language))
    return f"{day}{year} {clock}"


def _which(local: datetime) -> str:
    offset = local.utcoffset()
    if offset is None or offset == local.replace(fold=1 - local.fold).utcoffset():
        return ""
    minutes = round(offset.total_seconds() / 60.0)
    part = f":{abs(minutes) % 60:02d}" if minutes % 60 else ""
    return f" (UTC{'-' if minutes < 0 else '+'}{abs(minutes) // 60}{part})"


def fact_text(name: str, value: Fact, zone: tzinfo, now: datetime | None = None) -> str:
    """A fact in words. Facts named `*_utc`, and other texts that are a time with its zone, become local time."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        if name == "quantity":
            return value.replace("_", " ")
        if name.endswith("_utc") or name in ("taken", "expired"):
            try:
                moment = datetime.fromisoformat(value)
            except ValueError:
                return value
            return value if moment.tzinfo is None else moment_text(moment, zone, now)
        return value
    return number_text(value, name)
