"""Reasons, replies, verdicts and alarms as sentences in local time. Never raises for a code or a fact it does not know."""

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime, tzinfo
from string import Formatter
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from dosectl.core.alarms import Alarm, row_of, state_of
from dosectl.core.alarms.hiding import WORDS as HIDING_WORDS
from dosectl.model.reasons import Code, Fact, Facts, Reason, ReasonKind, facts_text
from dosectl.model.requests import Reply
from dosectl.model.verdicts import Denial, Limit, Verdict
from dosectl.texts.figures import fact_text, moment_text
from dosectl.texts.words import by_code

ALARM_TEXT_MAX = 400
_FORMATTER = Formatter()


def sentence(words: str, facts: Facts, zone: tzinfo, since: datetime | None = None, now: datetime | None = None) -> str:
    """Words with their places filled.

    A place without a fact becomes `?`: a gap in a text must not hide the rest of it. `now` shortens moments of the same day.
    """
    known: Mapping[str, Fact] = dict(facts)
    parts: list[str] = []
    try:
        for text, name, spec, _ in _FORMATTER.parse(words):
            parts.append(text)
            if name is None:
                continue
            if name == "since" and since is not None and "since" not in known:
                parts.append(moment_text(since, zone, now))
            elif name not in known:
                parts.append("?")
            else:
                filled = _filled(name, known[name], spec or "", zone, now)
                if not filled:  # a unit that a quantity lacks leaves no double space
                    parts[-1] = parts[-1].removesuffix(" ")
                parts.append(filled)
    except ValueError:  # braces that are no places: the words are shown as they are
        return words
    return "".join(parts)


def _filled(name: str, value: Fact, spec: str, zone: tzinfo, now: datetime | None) -> str:
    if spec and not isinstance(value, str | bool):
        try:
            return format(value, spec)
        except ValueError:
            return fact_text(name, value, zone, now)
    return fact_text(name, value, zone, now)


class Texts:
    """The words of one pool's reader.

    time_zone : IANA name; UTC where the system does not know it
    more : words of the adapters, beside those of the step
    """

    def __init__(self, time_zone: str, more: Iterable[ReasonKind] = ()) -> None:
        try:
            self.zone: tzinfo = ZoneInfo(time_zone)
        except (ZoneInfoNotFoundError, ValueError):
            self.zone = UTC
        self._words = by_code(more)

    def reason(self, reason: Reason, now: datetime | None = None) -> str:
        """The sentence of a reason; for an unknown code the code and its facts."""
        return self.code(reason.code, reason.facts, reason.since.utc, now)

    def code(self, code: Code, facts: Facts, since: datetime | None = None, now: datetime | None = None) -> str:
        """The sentence of a code with its facts; for an unknown code both, as they are."""
        words = self._words.get(code)
        if words is None:
            return f"{code} ({facts_text(facts)})" if facts else str(code)
        return sentence(words, facts, self.zone, since, now)

    def reply(self, reply: Reply) -> str:
        """The sentence of a reply, from the words it carries."""
        return sentence(reply.words, reply.facts, self.zone)

    def verdicts(self, verdicts: tuple[Verdict, ...], now: datetime | None = None) -> str:
        """One line for a feeder: `held: <first denial> (and 2 more)`, else `limited to 3.2 g: <tightest>`, else `permitted`."""
        denials = [verdict for verdict in verdicts if isinstance(verdict, Denial)]
        if denials:
            rest = f" (and {len(denials) - 1} more)" if len(denials) > 1 else ""
            return f"held: {self.reason(denials[0].why, now)}{rest}"
        limits = [verdict for verdict in verdicts if isinstance(verdict, Limit)]
        if limits:
            tightest = min(limits, key=lambda limit: limit.mass_g)
            return f"limited to {fact_text('mass_g', tightest.mass_g, self.zone)} g: {self.reason(tightest.why, now)}"
        return "permitted"

    def alarm(self, alarm: Alarm, now: datetime | None = None) -> dict[str, Any]:
        """An alarm as a document: its facts, and its five-part text: what, since, what was done, what to do, when to worry."""
        try:
            row = row_of(alarm.code)
        except KeyError:
            return {"code": str(alarm.code), "occurrence": alarm.occurrence, "priority": "", "text": str(alarm.code)}
        priority = row.priority_at(alarm.level).name
        since = "" if alarm.since is None else f" since {moment_text(alarm.since.utc, self.zone, now)}"
        worry = f"(If nobody acts: {row.consequence}; {row.respond_within})"
        text = f"[{priority}] {row.title}{since}. {row.does} {row.response} {worry}"
        return {
            "code": str(alarm.code),
            "occurrence": alarm.occurrence,
            "priority": priority.lower(),
            "present": alarm.present,
            "acked": alarm.acked,
            "latched": alarm.latched,
            "since_utc": None if alarm.since is None else alarm.since.utc.isoformat(timespec="seconds"),
            "answered_by": alarm.answered_by,
            "title": row.title,
            "text": text[:ALARM_TEXT_MAX],
            "cause": "" if alarm.why is None else self.reason(alarm.why, now),
            **_standing_as(alarm),
        }


def _standing_as(alarm: Alarm) -> dict[str, Any]:
    """How an alarm stands beside its condition: the name of its state, what a person or a parent did to it, how it behaves."""
    aside = alarm.out or alarm.shelf
    restless = f"comes and goes, {alarm.came} times" if alarm.restless else ""
    return {
        "state": state_of(alarm).value,
        "because": "" if alarm.hidden is None else f"because {HIDING_WORDS.get(alarm.hidden, alarm.hidden)}",
        "restless": restless,
        "aside": None if aside is None else {"until_s": aside.until_s, "by": aside.by, "reason": aside.reason},
    }
