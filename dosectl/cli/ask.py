"""`dosectl ask`: questions about the water, answered from values given or from the controller's view. It feeds nothing."""

import argparse
import dataclasses
import json
import sys
from collections.abc import Callable, Mapping
from datetime import UTC, datetime, tzinfo
from typing import Any

from dosectl.chemistry.answers.dosing import Goal
from dosectl.cli.ask_water import add_water, added_h_ago, circumstances, depth_m, light, past, tested_days, water
from dosectl.cli.verb import DONE, REFUSED, Verb
from dosectl.core.advice import acidity, adding, balance, coming_down, meaning, mix, next_test, salt, shelf, stabiliser, swim
from dosectl.core.advice.answer import Answer, Course, Weight
from dosectl.core.advice.known import ABOUT, Field, Refused
from dosectl.core.requests.products import NAMES, NEUTRALISER_NAMES
from dosectl.texts.render import sentence

_STRENGTHS = ("percent", "trade_percent", "available_percent", "naocl_percent", "available_g_l")
_MORE = ("density_kg_l", "age_days", "storage_c", "output_g_h")
_SHORT = {"alkalinity": Field.ALKALINITY, "hardness": Field.HARDNESS, "ph": Field.PH, "temperature": Field.TEMPERATURE}
_FIELDS = {about.words.split(" (")[0].replace(" ", "-"): field for field, about in ABOUT.items()}
_NAMED = {**_FIELDS, **_SHORT}


def _product(p: argparse.ArgumentParser) -> None:
    p.add_argument("product", help=f"one of {', '.join((*NAMES, *NEUTRALISER_NAMES))}")
    for name in _STRENGTHS:
        words = name.replace("_", "-")
        p.add_argument(f"--strength-{words}", dest=name, type=float, metavar="X", help=f"the label's strength as {words}")
    for name in _MORE:
        p.add_argument(f"--{name.replace('_', '-')}", type=float, metavar="X", help=name.replace("_", " "))


def _to(p: argparse.ArgumentParser, required: bool = True, default: float | None = None) -> None:
    p.add_argument("--to", type=float, metavar="X", required=required, default=default, help="the value wanted")


def _fill(p: argparse.ArgumentParser) -> None:
    p.add_argument("--fill", type=float, metavar="X", default=0.0, help="what the fill water holds of it")


def _shelf(a: argparse.Namespace) -> shelf.Shelf:
    return shelf.take(a.product, shelf.Strength(**{name: getattr(a, name) for name in (*_STRENGTHS, *_MORE)}))


def _add_arguments(p: argparse.ArgumentParser) -> None:
    _product(p)
    _to(p, required=False)
    p.add_argument(
        "--amount", type=float, metavar="X", help="instead of --to: what this much does [mL, g, or h of a chlorinator]"
    )
    goals = [goal.value for goal in Goal]
    p.add_argument("--goal", choices=goals, help="what is to be moved; left out: what the product is usually for")


def _add(a: argparse.Namespace) -> Answer:
    if (a.to is None) == (a.amount is None):
        raise Refused("question = incomplete: accepted is exactly one of --to and --amount")
    if a.to is None:
        return adding.effect(water(a), _shelf(a), a.amount)
    return adding.add(water(a), _shelf(a), a.to, None if a.goal is None else Goal(a.goal))


def _come_down_arguments(p: argparse.ArgumentParser) -> None:
    _to(p)
    _fill(p)
    p.add_argument("--neutraliser", default="thiosulfate_pentahydrate", metavar="NAME", help="the agent at hand")


def _alkalinity_arguments(p: argparse.ArgumentParser) -> None:
    _product(p)
    _to(p)


def _split(a: argparse.Namespace) -> Answer:
    if a.total_chlorine is not None:
        if a.quantity != "free-chlorine":
            raise Refused("total chlorine: accepted is beside a test of free-chlorine")
        return meaning.chlorine_split(a.value, a.total_chlorine, a.method)
    return meaning.meaning(_NAMED[a.quantity], a.value, a.method)


def _spelt(name: str) -> str:
    """A quantity as `dosectl test` writes it is meant as well."""
    return name.replace("_", "-")


def _meaning_arguments(p: argparse.ArgumentParser) -> None:
    tested = [name for name, field in _NAMED.items() if ABOUT[field].quantity is not None]
    p.add_argument("quantity", type=_spelt, choices=tested, help="what was tested")
    p.add_argument("value", type=float, help="the result")
    p.add_argument("method", help="how it was tested: drops, colour, photometer, strips, turbidity, meter, laboratory")
    p.add_argument("--total-chlorine", type=float, metavar="X", help="total chlorine by the same method [mg/L]")


def _mix_arguments(p: argparse.ArgumentParser) -> None:
    p.add_argument("one", help=f"one of {', '.join(mix.MIXABLE)}")
    p.add_argument("other", help="the other product")


def _replace_arguments(p: argparse.ArgumentParser) -> None:
    of_water = [n for n, f in _NAMED.items() if f not in (Field.VOLUME, Field.PH, Field.TEMPERATURE)]
    p.add_argument("quantity", type=_spelt, choices=of_water)
    _to(p)
    _fill(p)


def _stabiliser_arguments(p: argparse.ArgumentParser) -> None:
    _to(p, False, 50.0)
    _fill(p)


def _salt_arguments(p: argparse.ArgumentParser) -> None:
    _to(p, False, salt.USUAL_G_L)
    _fill(p)


def _none(_: argparse.ArgumentParser) -> None:
    """The water alone."""


def _swim(a: argparse.Namespace) -> Answer:
    known = water(a)  # first: it may find a controller whose record tells more
    around = swim.Circumstances(
        combined_mg_l=a.combined_chlorine,
        clear={"yes": True, "no": False, None: None}[a.clear],
        added_h_ago=added_h_ago(a),
        turnover_h=a.turnover_h,
        age_h=a.age_h,
        fouled=a.fouled,
    )
    return swim.swim(known, around, light(a))


def _next_test(a: argparse.Namespace) -> Answer:
    known = water(a)
    ages = tested_days(a)
    controlled = (a.controlled or a.view is not None) and not a.by_hand_only
    for text in a.tested:
        name, _, days = text.partition("=")
        try:
            ages[_field(name)] = float(days)
        except ValueError:
            raise Refused(f"--tested {text}: accepted is QUANTITY=DAYS, such as pH=3, with one of {', '.join(_FIELDS)}") from None
    changed = frozenset(_field(name) for name in a.changed)
    return next_test.next_test(known, next_test.Past(ages, changed, controlled=controlled, salt_pool=not a.no_chlorinator))


def _field(name: str) -> Field:
    """A quantity by its name or by that of its option. Raises Refused for another."""
    try:
        return _NAMED[name]
    except KeyError:
        raise Refused(f"quantity = {name!r}: accepted is one of {', '.join(_FIELDS)}") from None


Arguments = Callable[[argparse.ArgumentParser], None]
Run = Callable[[argparse.Namespace], Answer]
QUESTIONS: Mapping[str, tuple[str, Arguments, Run]] = {
    "add": ("how much of a product reaches a value, or what an amount of it does", _add_arguments, _add),
    "come-down": (
        "how to bring too much chlorine down: wait, neutralise, replace water",
        _come_down_arguments,
        lambda a: coming_down.come_down(water(a), a.to, light(a), product=a.neutraliser, fill_mg_l=a.fill),
    ),
    "replace": (
        "the least water to replace for what only fresh water takes out",
        _replace_arguments,
        lambda a: coming_down.replace_water(water(a), _NAMED[a.quantity], a.to, a.fill),
    ),
    "stabiliser": (
        "is there too much stabiliser, and how much water to replace",
        _stabiliser_arguments,
        lambda a: stabiliser.stabiliser(water(a), salt_pool=not a.no_chlorinator, target_mg_l=a.to, fill_mg_l=a.fill),
    ),
    "test": ("what a test result means and how far it may be off", _meaning_arguments, _split),
    "swim": ("are there reasons against swimming now, and when do they end", circumstances, _swim),
    "next-test": ("what to test next, and when", past, _next_test),
    "salt": (
        "salt for the chlorinator",
        _salt_arguments,
        lambda a: salt.salt(water(a), a.to, fill_g_l=a.fill),
    ),
    "lower-alkalinity": (
        "alkalinity down by acid in rounds, with air between",
        _alkalinity_arguments,
        lambda a: acidity.lower_alkalinity(water(a), _shelf(a), a.to, depth_m=depth_m(a)),
    ),
    "aerate": ("pH up by air alone", _to, lambda a: acidity.aerate(water(a), a.to, depth_m=depth_m(a))),
    "balance": (
        "does the water deposit chalk or dissolve cement",
        _none,
        lambda a: balance.balance(water(a), salt_pool=not a.no_chlorinator),
    ),
    "mix": ("may two products meet", _mix_arguments, lambda a: mix.mix(a.one, a.other)),
}


def _arguments(parser: argparse.ArgumentParser) -> None:
    questions = parser.add_subparsers(dest="question", required=True, metavar="QUESTION")
    for name, (words, arguments, _) in QUESTIONS.items():
        one = questions.add_parser(name, help=words, description=words)
        arguments(one)
        if name not in ("test", "mix"):
            add_water(one)
        one.add_argument("--working", action="store_true", help="show how the answer was worked out")
        one.add_argument("--json", action="store_true", help="print the answer as JSON")


def _run(a: argparse.Namespace) -> int:
    try:
        found = QUESTIONS[a.question][2](a)
    except ValueError as error:  # every refusal of a number, here or in the chemistry, is one; its text says what to do
        print(f"dosectl ask {a.question}: {error}", file=sys.stderr)
        return REFUSED
    print(json.dumps(document(found)) if a.json else text(found, working=a.working))
    return REFUSED if a.question == "mix" and mix.refused(found) else DONE


def document(found: Answer, zone: tzinfo = UTC) -> dict[str, Any]:
    """The answer as plain data, sentences made."""
    return {
        "question": found.question,
        "says": [
            {"weight": s.weight.value, "code": s.kind.code, "text": sentence(s.kind.words, s.facts, zone)} for s in found.says
        ],
        "figures": [dataclasses.asdict(f) for f in found.figures],
        "moves": [dataclasses.asdict(m) for m in found.moves],
        "curve": [{"hours": h, "likely_mg_l": round(a, 3), "slow_mg_l": round(b, 3)} for h, a, b in found.curve],
        "courses": [dataclasses.asdict(c) for c in found.courses],
        "working": [dataclasses.asdict(w) for w in found.working],
        "safety": [{"code": s.code, "text": s.words} for s in found.safety],
        "at_utc": datetime.now(UTC).isoformat(timespec="seconds"),
    }


_MARKS = {Weight.ANSWER: "", Weight.WARNING: "MIND: ", Weight.NOTE: "  "}


def text(found: Answer, *, working: bool = False, zone: tzinfo = UTC) -> str:
    """The answer for a person: what, what else moves, the curve, the working if asked, and always the safety notes."""
    lines = [_MARKS[s.weight] + sentence(s.kind.words, s.facts, zone).replace("  ", " ") for s in found.says]
    if found.moves:
        lines += ["", f"  {'what else moves':<24}{'before':>9}{'mixed':>9}{'later':>9}"]
        for m in found.moves:
            later = "" if m.settled is None else _number(m.settled, m.name)
            lines.append(f"  {m.name:<24}{_number(m.before, m.name):>9}{_number(m.mixed, m.name):>9}{later:>9}  {m.unit}")
    if found.curve:
        lines += ["", f"  {'waiting: free chlorine':<24}{'likely':>9}{'slow':>9}"]
        lines += [f"  {f'after {h:g} h':<24}{a:>9.1f}{b:>9.1f}" for h, a, b in found.curve]
    for c in found.courses:
        lines += ["", *_course(c)]
    if working and found.working:
        lines += ["", "  working:"]
        for w in found.working:
            source = f"  ({w.source})" if w.source else ""
            lines.append(f"  - {w.what}: {_exactly(w.value)} {w.unit}".rstrip() + source)
    if found.safety:
        lines += ["", "Before you handle it:", *(f"  - {note.words}" for note in found.safety)]
    return "\n".join(lines)


def _course(course: Course) -> list[str]:
    """A predicted curve over an amount, one line a row."""
    lines = [f"  {course.what:<24}" + "".join(f"{name:>9}" for name in course.columns)]
    for first, *rest in course.rows:
        lines.append(f"  {_exactly(first or 0.0):<24}" + "".join(f"{'' if v is None else _number(v, ''):>9}" for v in rest))
    return lines


def _exactly(value: float) -> str:
    """Four digits, for working that somebody follows with a calculator."""
    return f"{value:.0f}" if abs(value) >= 1000.0 else f"{value:.4g}"


def _number(value: float, name: str) -> str:
    return f"{value:.4f}" if name == "hypochlorous acid" else f"{value:.2f}" if abs(value) < 20.0 else f"{value:.0f}"


VERB = Verb(
    "ask",
    "Answer a question about the water. It feeds nothing. Labels, local codes and licensed trades come first.",
    "dosectl ask add hypochlorite --strength-trade-percent 12.5 --to 4 --free-chlorine 2 --volume-m3 50",
    _arguments,
    _run,
)
