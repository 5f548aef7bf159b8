"""A feeder node as a pure state machine: the contract that a real node's program must keep too. No MQTT, no clock.

It boots off. It obeys an ON only if the message was not retained, names this boot, has not expired by this node's own
millisecond counter, is newer than any command before, and comes from the one owner. It ends each feed by itself, counts its
own hourly running time, and never lets two groups of feeders run together (a wired exclusion). OFF is obeyed from anyone.
"""

import json
from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, field

HOUR_MS = 3_600_000
COMMAND_BYTES_MAX = 4096
OWNERS_MAX = 8
NUMBER_MAX = 2**48


@dataclass(frozen=True, slots=True)
class FeederLimits:
    """What the node itself enforces for one feeder.

    group : feeders of different groups never run together
    hourly_run_s_max : most running time in any hour; expires_s_max : longest life of one command
    percent : takes a level; else any level counts as full
    """

    group: str
    hourly_run_s_max: float = 3600.0
    expires_s_max: float = 15.0
    percent: bool = False


@dataclass(slots=True)
class _Output:
    limits: FeederLimits
    level: float = 0.0
    since_ms: int = 0
    until_ms: int = 0
    numbers: dict[str, int] = field(default_factory=dict)  # newest command number of each owner heard
    runs: deque[tuple[int, int]] = field(default_factory=deque)  # closed runs, start and end [ms]

    def ran_ms(self, now_ms: int) -> int:
        """Running time within the last hour."""
        start = now_ms - HOUR_MS
        while self.runs and self.runs[0][1] <= start:
            self.runs.popleft()
        ran = sum(end - max(begin, start) for begin, end in self.runs)
        return ran + (now_ms - max(self.since_ms, start) if self.level > 0.0 else 0)

    def left_ms(self, now_ms: int) -> int:
        """Running time that the hourly cap still allows."""
        return int(self.limits.hourly_run_s_max * 1000.0) - self.ran_ms(now_ms)

    def remember(self, owner: str, number: int) -> None:
        """Notes an owner's newest number; a flood of made-up owners can't fill the memory."""
        if owner in self.numbers or len(self.numbers) < OWNERS_MAX:
            self.numbers[owner] = max(number, self.numbers.get(owner, 0))


@dataclass(frozen=True, slots=True)
class Answer:
    """What became of a command: obeyed, or why not. changed : an output switched or the owner was taken."""

    obeyed: bool
    why: str = ""
    changed: bool = False


class FeederNode:
    """One node with one or more feeders. Times are its own counter since boot [ms], given with every call; it never runs back."""

    def __init__(self, boot: str, feeders: Mapping[str, FeederLimits], simulated: bool = True) -> None:
        self.boot = boot
        self.owner = ""
        self._simulated = simulated
        self._outputs = {name: _Output(limits) for name, limits in feeders.items()}

    def outputs(self) -> dict[str, float]:
        """Levels of the feeders that are on."""
        return {name: output.level for name, output in self._outputs.items() if output.level > 0.0}

    def next_end_ms(self) -> int | None:
        """When the first running feeder will end by itself, None where none runs."""
        ends = [output.until_ms for output in self._outputs.values() if output.level > 0.0]
        return min(ends) if ends else None

    def tick(self, now_ms: int) -> bool:
        """Ends what has expired or used up its hour. True if an output switched. To be called often."""
        changed = False
        for output in self._outputs.values():
            if output.level == 0.0:
                continue
            if now_ms >= output.until_ms:
                # A late call must not book, nor the load feed, past the end: the timer in a real node fires by itself.
                self._off(output, max(output.since_ms, output.until_ms))
                changed = True
        return changed

    def command(self, feeder: str, payload: bytes, retained: bool, now_ms: int) -> Answer:
        """Judges one message of the feeder's command topic. Never raises."""
        changed = self.tick(now_ms)
        output = self._outputs.get(feeder)
        if output is None:
            return Answer(False, "unknown feeder", changed)
        body = _parse(payload)
        if body is None:
            return Answer(False, "not a command", changed)
        if retained:
            return Answer(False, "retained", changed)
        if body["do"] == "off":
            return self._obey_off(output, body, now_ms, changed)
        why = self._refusal(feeder, output, body, now_ms)
        if why:
            return Answer(False, why, changed)
        return self._obey_on(output, body, now_ms, changed)

    def _obey_off(self, output: _Output, body: dict[str, object], now_ms: int, changed: bool) -> Answer:
        number, owner = _count(body.get("no")), body.get("owner")
        # Numbers are kept per owner: a stranger's OFF stops the feeder but does not use up the owner's numbers.
        if number is not None and isinstance(owner, str) and owner:
            output.remember(owner, number)
        if output.level > 0.0:
            self._off(output, now_ms)
            changed = True
        return Answer(True, "", changed)

    def _refusal(self, feeder: str, output: _Output, body: dict[str, object], now_ms: int) -> str:
        owner, number = body.get("owner"), _count(body.get("no"))
        valid_until, expires, level = (_number(body.get(key)) for key in ("valid_until_ms", "expires_s", "level"))
        if body.get("node_boot") != self.boot:
            return "another boot"
        if not isinstance(owner, str) or not owner or (self.owner and owner != self.owner):
            return "another owner"
        if number is None or number <= output.numbers.get(owner, 0):
            return "old number"
        if owner not in output.numbers and len(output.numbers) >= OWNERS_MAX:
            return "too many owners"
        if valid_until is None or now_ms >= valid_until:
            return "expired"
        if expires is None or expires <= 0.0 or level is None or not 0.0 < level <= 1.0:
            return "no end or no level"
        if output.left_ms(now_ms) <= 0:
            return "hourly cap"
        for name, other in self._outputs.items():
            if name != feeder and other.level > 0.0 and other.limits.group != output.limits.group:
                return "the other group runs"
        return ""

    def _obey_on(self, output: _Output, body: dict[str, object], now_ms: int, changed: bool) -> Answer:
        valid_until, expires, level = (_number(body[key]) or 0.0 for key in ("valid_until_ms", "expires_s", "level"))
        owner = str(body["owner"])
        output.remember(owner, _count(body["no"]) or 0)
        # The command's own last valid moment and the hourly cap end the feed as well: a late message has a shorter life.
        life_ms = int(min(expires, output.limits.expires_s_max) * 1000.0)
        output.until_ms = min(now_ms + life_ms, int(valid_until), now_ms + output.left_ms(now_ms))
        new_level = level if output.limits.percent else 1.0
        if output.level == 0.0:
            output.since_ms = now_ms
        changed = changed or output.level != new_level or self.owner != owner
        output.level = new_level
        self.owner = owner
        return Answer(True, "", changed)

    def _off(self, output: _Output, at_ms: int) -> None:
        output.runs.append((output.since_ms, at_ms))
        output.level = 0.0

    def all_off(self, now_ms: int) -> bool:
        """Everything off, for the node's own end. True if an output switched."""
        running = [output for output in self._outputs.values() if output.level > 0.0]
        for output in running:
            self._off(output, now_ms)
        return bool(running)

    def status(self, now_ms: int) -> dict[str, object]:
        """The status document of the node contract."""
        feeders = {
            name: {"on": output.level > 0.0, "no": output.numbers.get(self.owner, 0)} for name, output in self._outputs.items()
        }
        return {"boot": self.boot, "ms": now_ms, "owner": self.owner, "simulated": self._simulated, "feeders": feeders}


def _parse(payload: bytes) -> dict[str, object] | None:
    if len(payload) > COMMAND_BYTES_MAX:
        return None
    try:
        body = json.loads(payload)
    except (ValueError, RecursionError):
        return None
    return body if isinstance(body, dict) and body.get("do") in ("on", "off") else None


def _number(value: object) -> float | None:
    """A sane number that is no boolean; whole numbers below 2^48 stay exact."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value <= NUMBER_MAX:
        return None
    return float(value)


def _count(value: object) -> int | None:
    """A sane whole number: 1.5 between 1 and 2 would be a number used twice."""
    return value if isinstance(value, int) and _number(value) is not None else None
