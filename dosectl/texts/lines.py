"""Messages that nobody need answer: the morning's line of an absence, the account of it, the week. From facts, in a language."""

from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from datetime import datetime, tzinfo

from dosectl.core.alarms import row_of
from dosectl.model.reasons import Code, Fact, Facts
from dosectl.texts.figures import moment_text, number_text
from dosectl.texts.guards import guard_words
from dosectl.texts.languages import figure, filled, translated

MORNING = Code("absence.line")
ACCOUNT = Code("absence.account")
WEEK = Code("week.summary")

LINE_MAX = 400
PAGE_MAX = 2000

NOT_WELL = {
    "held": "feeding is stopped by hand",
    "fallback": "chlorine runs without a usable reading",
    "unsure": "the chlorine is not well known: have the water tested by hand",
    "chlorine_low": "chlorine is low",
    "chlorine_high": "chlorine is high: nobody swims",
    "ph": "pH is out of its range",
    "stock": "a container lasts less than three days",
}
QUANTITIES = {
    "free_chlorine": "free chlorine",
    "ph": "pH",
    "alkalinity": "alkalinity",
    "stabiliser": "stabiliser",
    "salt": "salt",
    "hardness": "hardness",
    "water_temp": "water temperature",
    "combined_chlorine": "combined chlorine",
}
SUBSTANCES = {"chlorine": "chlorine", "acid": "acid"}


def line_text(code: str, facts: Facts, language: str, zone: tzinfo, now: datetime | None = None) -> str:
    """The message of these facts; of an unknown code its text fact, as older records have it. Never raises for a missing fact."""
    known = dict(facts)
    if code == MORNING:
        return _cut(" ".join(_morning(known, language)), LINE_MAX)
    if code in (ACCOUNT, WEEK):
        head = "While you were away ({days} days):" if code == ACCOUNT else "The pool's last {days} days:"
        lines = (filled(head, language, days=_number(known, "days", language)), *page(known, language, zone, now))
        return _cut("\n".join(lines), PAGE_MAX)
    return _cut(str(known.get("text", code)), LINE_MAX)


def title_of(code: str, language: str) -> str:
    """What is wrong, in a few words; the code where nobody wrote any."""
    try:
        return translated(row_of(Code(code)).title, language)
    except KeyError:
        return code


def _morning(known: Mapping[str, Fact], language: str) -> Iterator[str]:
    bad = [name.removeprefix("not:") for name in known if name.startswith("not:")]
    if bad:
        yield filled("Not all is well: {what}.", language, what="; ".join(_bad(name, language) for name in bad))
    else:
        yield translated("All is well.", language)
    if "free_mg_l" in known:
        places = {name: _number(known, name, language) for name in ("free_mg_l", "low_mg_l", "high_mg_l", "ph")}
        yield filled("Chlorine about {free_mg_l} mg/L ({low_mg_l} to {high_mg_l}), pH {ph}.", language, **places)
    if "orp_mv" in known:
        yield filled("Redox {orp_mv} mV.", language, orp_mv=_number(known, "orp_mv", language))
    fed = [
        f"{translated(SUBSTANCES.get(name, name), language)} {_figure(float(value), language)} mg/L"
        for name, value in _of(known, "fed")
    ]
    if fed:
        yield filled("Fed in a day: {fed}.", language, fed=", ".join(fed))
    for feeder, days in _of(known, "stock"):
        yield filled("{feeder} lasts {days} days.", language, feeder=feeder, days=_figure(float(days), language))


def _bad(name: str, language: str) -> str:
    if name.startswith("alarm:"):
        return title_of(name.removeprefix("alarm:"), language)
    return translated(NOT_WELL.get(name, name), language)


def page(known: Mapping[str, Fact], language: str, zone: tzinfo, now: datetime | None = None) -> Iterator[str]:
    """The lines of an account, for a message or the command line."""
    fill: Callable[..., str] = lambda words, **places: "- " + filled(words, language, **places)  # noqa: E731 - short and local
    if "in_band_h" in known:
        places = {name: _number(known, name, language) for name in ("in_band_h", "known_h", "of_h")}
        yield fill("chlorine in its band for {in_band_h} of {known_h} h on record, as estimated (of {of_h} h)", **places)
    else:
        yield fill("nothing of the water is on record for this time")
    for name, words in (
        ("free", "chlorine from {low} mg/L ({low_at}) to {high} mg/L ({high_at}), as estimated"),
        ("ph", "pH from {low} ({low_at}) to {high} ({high_at})"),
    ):
        if f"{name}_low" in known:
            ends = {end: _number(known, f"{name}_{end}", language) for end in ("low", "high")}
            moments = {f"{end}_at": _moment(known.get(f"{name}_{end}_utc"), zone, now, language) for end in ("low", "high")}
            yield fill(words, **ends, **moments)
    for feeder, value in _of(known, "fed"):
        drawn = f"used:{feeder}" in known
        words = "{feeder} fed {mg_l} mg/L, {litres} L out of its container" if drawn else "{feeder} fed {mg_l} mg/L"
        litres = _figure(float(known.get(f"used:{feeder}", 0.0)) / 1000.0, language)
        yield fill(words, feeder=feeder, mg_l=_figure(float(value), language), litres=litres)
    for feeder, value in _of(known, "left"):
        yield fill("about {litres} L are left for {feeder}", litres=_figure(float(value) / 1000.0, language), feeder=feeder)
    tested = [_tested(known, name, float(value), language) for name, value in _of(known, "test")]
    yield fill("water tests, the newest of each: {tested}", tested=", ".join(tested)) if tested else fill("no water tests")
    came = [
        f"{title_of(code, language)} ({times}x, {_figure(float(known.get(f'longest:{code}', 0.0)), language)} h)"
        for code, times in _of(known, "alarm")
    ]
    yield fill("alarms, how often and how long at most: {came}", came="; ".join(came)) if came else fill("no alarms")
    trips: Counter[str] = Counter()
    for guard, times in _of(known, "trip"):  # some guards there are of each feeder or signal
        trips[guard_words(guard, language)] += int(times)
    if trips:
        held = ", ".join(f"{words} {times}x" for words, times in trips.most_common())
        yield fill("interlocks that held a feed, as they should: {trips}", trips=held)


def _tested(known: Mapping[str, Fact], name: str, value: float, language: str) -> str:
    words = translated(QUANTITIES.get(name, name), language)
    return f"{words} {_figure(value, language, name)} ({known.get(f'tests:{name}', 1)}x)"


def reminder_text(words: str, facts: Facts, language: str) -> str:
    """A reminder in a language; names of quantities are translated, those of probes and feeders are the settings' own."""
    places = {name: translated(QUANTITIES.get(str(value), str(value)), language) for name, value in facts}
    return filled(words, language, **places)


def _of(known: Mapping[str, Fact], kind: str) -> list[tuple[str, Fact]]:
    return [(name.removeprefix(f"{kind}:"), value) for name, value in known.items() if name.startswith(f"{kind}:")]


def _number(known: Mapping[str, Fact], name: str, language: str) -> str:
    value = known.get(name)
    return _figure(value, language, name) if isinstance(value, int | float) and not isinstance(value, bool) else "?"


def _figure(value: float, language: str, name: str = "") -> str:
    return figure(number_text(value, name), language)


def _moment(value: Fact | None, zone: tzinfo, now: datetime | None, language: str) -> str:
    try:
        return moment_text(datetime.fromisoformat(str(value)), zone, now, language)
    except ValueError:
        return "?"


def _cut(text: str, room: int) -> str:
    return text if len(text) <= room else text[: room - 1].rstrip() + "…"
