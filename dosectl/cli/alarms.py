"""`dosectl alarms`: all alarms by state, what is put aside with the time left, what hides others; and how healthy the list is."""

import argparse
import json
import sys
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

from dosectl.cli.seen import view
from dosectl.cli.verb import DONE, REFUSED, Verb, add_config
from dosectl.cli.where import NoInstallation, installation
from dosectl.cli.why import FAR
from dosectl.core.alarms.health import WEEKLY_MAX, Health, health
from dosectl.store.faults import JournalError
from dosectl.store.read import Record


def _arguments(parser: argparse.ArgumentParser) -> None:
    add_config(parser)
    parser.add_argument("--health", action="store_true", help="measures of the alarm list itself, out of the record")
    parser.add_argument("--days", type=float, default=28.0, metavar="D", help="for --health: over so many days (28)")
    parser.add_argument("--json", action="store_true", help="print it as JSON")


def _run(arguments: argparse.Namespace) -> int:
    if arguments.health:
        return _health(arguments)
    seen = view(arguments)
    if isinstance(seen, int):
        return seen
    if arguments.json:
        print(json.dumps({name: seen.get(name, []) for name in ("alarms", "alarms_aside", "hiding")}))
        return DONE
    for line in standing_lines(seen):
        print(line)
    return DONE


def standing_lines(seen: dict[str, Any]) -> Iterator[str]:
    """The state view's alarms for a person, by state."""
    states: dict[str, list[dict[str, Any]]] = {}
    aside = {item["code"] for item in seen.get("alarms_aside", [])}
    for item in seen["alarms"]:
        if item["code"] not in aside:
            states.setdefault(item.get("state", ""), []).append(item)
    for state, items in states.items():
        yield f"{state}:"
        for item in items:
            marks = [mark for mark in (item.get("because"), item.get("restless")) if mark]
            if item.get("follows"):
                marks.append(f"follows from {item['follows']}")
            noted = f" ({'; '.join(marks)})" if marks else ""
            yield f"  {item['code']} (occurrence {item['occurrence']}, {item['priority']}){noted}: {item['text']}"
    for item in seen.get("alarms_aside", []):
        put = item["aside"]
        left = f"{item['left_h']:g} h left, by {put['by']}: {put['reason']}"
        yield f"{item['state']}: {item['code']} ({item['priority']}), {left}"
    for item in seen.get("hiding", []):
        yield f"some alarms wait because {item['text']}"
    if not states and not aside:
        yield "no alarm stands"


def _health(arguments: argparse.Namespace) -> int:
    if arguments.days <= 0.0:
        print(f"--days {arguments.days:g}: found no length of time; give the number of days to look back over", file=sys.stderr)
        return REFUSED
    try:
        with Record(installation(arguments).journal_path) as record:
            decided = record.why(FAR)  # the record's own newest moment: a demo keeps a time of its own
            end = max((item.as_of for item in decided), default=datetime.now(UTC)) + timedelta(seconds=1)
            start = end - timedelta(days=arguments.days)
            found = health(record.alarms(start, end), start, end)
    except (NoInstallation, JournalError) as error:
        print(error, file=sys.stderr)
        return REFUSED
    if arguments.json:
        print(json.dumps(document(found)))
        return DONE
    for line in health_lines(found):
        print(line)
    return DONE


def document(found: Health) -> dict[str, Any]:
    """The measures as JSON."""
    return {
        "weeks": round(found.weeks, 2),
        "per_week": round(found.per_week, 2),
        "by_priority": dict(found.by_priority),
        "standing_h": {str(code): round(hours, 1) for code, hours in found.standing},
        "restless": list(found.restless),
        "kinds": [
            {"code": kind.code, "times": kind.times, "share": round(kind.share, 2), "useless": kind.useless}
            for kind in found.kinds
        ],
        "answer_min": {name: round(seconds / 60.0, 1) for name, seconds in found.answer_s.items()},
        "unanswered": list(found.unanswered),
    }


def health_lines(found: Health) -> Iterator[str]:
    """The measures for a person; what needs a person says what to do."""
    counts = ", ".join(f"{count} {name}" for name, count in found.by_priority.items() if count) or "none"
    yield f"over {found.weeks:.1f} weeks: {found.per_week:.1f} alarms a week ({counts}); at most {WEEKLY_MAX:g} a week is healthy"
    for name, seconds in found.answer_s.items():
        yield f"{name}: half of them were answered within {seconds / 60.0:.0f} min"
    for code, hours in found.standing:
        yield f"{code} has stood for {hours:.0f} h: mend it, shelve it or change its limit"
    for kind in found.top:
        yield f"{kind.code} makes {kind.share:.0%} of all alarms ({kind.times} times): mending its cause mends the list"
    for code in found.restless:
        yield f"{code} comes and goes too often: look for a loose contact, or a limit too close to normal"
    for kind in found.kinds:
        if kind.wants_review:
            yield f"{kind.code} was of no use {kind.useless} times out of {kind.times}: review its limit"
    for code in found.unanswered:
        yield f"{code} was not answered within a day: check that calls reach somebody"


VERB = Verb("alarms", "List alarms by state, or say how healthy the alarm list is.", "dosectl alarms", _arguments, _run)
