"""From a decided command to what goes on the wire: the node contract's JSON, or the template of a plain relay."""

import json
import math
from dataclasses import dataclass
from datetime import UTC, datetime

from dosectl.bus.topics import Topics
from dosectl.model.feeds import FeedCommand, FeederId, FeedOn
from dosectl.settings.broker import RelayTemplate


class Unsendable(ValueError):
    """This command can't be put so that it ends by itself; nothing may be sent in its place but an OFF."""


@dataclass(frozen=True, slots=True)
class Message:
    """One command as it goes out; never retained.

    energises : it may switch a feeder on, so it may not be kept for later
    expires_s : life in the broker (MQTT 5) [s], whole, never longer than the command's own; None for an OFF, which is always true
    """

    feeder: FeederId
    topic: str
    payload: bytes
    energises: bool
    expires_s: int | None


def message_of(command: FeedCommand, topics: Topics, ident: str, relay: RelayTemplate | None, issued_utc: datetime) -> Message:
    """The message for a command: through its relay's template, or by the node contract where it has none.

    Raises Unsendable for an ON without an end.
    """
    if isinstance(command, FeedOn) and not (math.isfinite(command.expires_s) and command.expires_s >= 1.0):
        raise Unsendable(f"{command.feeder}: a life of {command.expires_s} s; at least 1 s is needed")
    if isinstance(command, FeedOn) and not 0.0 < command.level <= 1.0:
        raise Unsendable(f"{command.feeder}: level {command.level}; above 0 and at most 1 is needed")
    if relay is not None:
        return _relay_message(command, relay)
    return _node_message(command, topics, ident, issued_utc)


def _node_message(command: FeedCommand, topics: Topics, ident: str, issued_utc: datetime) -> Message:
    topic = topics.command(command.feeder)
    if not isinstance(command, FeedOn):
        body: dict[str, object] = {"do": "off", "no": command.command_no, "owner": ident}
        return Message(command.feeder, topic, _json(body), False, None)
    if command.node_boot is None or command.node_valid_until_ms is None:
        raise Unsendable(f"{command.feeder}: the node's boot or counter is not known, so the command could not expire there")
    body = {
        "do": "on",
        "no": command.command_no,
        "owner": ident,
        "node_boot": command.node_boot,
        "valid_until_ms": command.node_valid_until_ms,
        "level": command.level,
        "expires_s": command.expires_s,
        "issued_utc": issued_utc.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z"),
    }
    return Message(command.feeder, topic, _json(body), True, int(command.expires_s))


def _relay_message(command: FeedCommand, relay: RelayTemplate) -> Message:
    if not isinstance(command, FeedOn):
        return Message(command.feeder, relay.off_topic, relay.off_payload.encode(), False, None)
    if "{seconds}" not in relay.on_payload:
        raise Unsendable(f"{command.feeder}: the relay's ON payload has no {{seconds}}, so the relay would never end the feed")
    seconds = int(command.expires_s)  # rounded down: never longer than what was granted
    payload = relay.on_payload
    # Replaced by hand: the payload may be JSON, whose braces str.format would take for places.
    for place, text in (
        ("{seconds}", str(seconds)),
        ("{percent}", str(int(command.level * 100 + 1e-9))),
        ("{level}", f"{command.level:.3f}".rstrip("0").rstrip(".")),
    ):
        payload = payload.replace(place, text)
    return Message(command.feeder, relay.on_topic, payload.encode(), True, seconds)


def _json(body: dict[str, object]) -> bytes:
    return json.dumps(body, allow_nan=False, separators=(",", ":")).encode()


def owner_of(payload: bytes) -> str:
    """Who signed a command, "" where it bears no owner."""
    if len(payload) > 4096:
        return ""
    try:
        body = json.loads(payload)
    except (ValueError, RecursionError):
        return ""
    owner = body.get("owner") if isinstance(body, dict) else None
    return owner[:64] if isinstance(owner, str) else ""
