"""Where the broker, the time-series server and plain relays are, and how to speak to them. Secrets are read from files."""

from dataclasses import dataclass, field

from dosectl.model.feeds import FeederId


@dataclass(frozen=True, slots=True)
class BrokerSettings:
    """The MQTT broker.

    protocol : "5", "3.1.1", or "auto" (5, and 3.1.1 where the broker refuses 5)
    base : first levels of all our own topics
    """

    host: str
    port: int
    base: str
    client_id: str
    protocol: str = "auto"
    username: str | None = None
    password: str | None = field(default=None, repr=False)
    ca_file: str | None = None
    keepalive_s: int = 5


@dataclass(frozen=True, slots=True)
class ForwardSettings:
    """The line-protocol time-series server."""

    url: str
    org: str
    bucket: str
    token: str | None = field(default=None, repr=False)


@dataclass(frozen=True, slots=True)
class RelayTemplate:
    """Payloads of a plain relay that takes "on for N seconds".

    Places in the payloads: `{seconds}` whole seconds, `{level}` 0 to 1, `{percent}` 0 to 100.
    """

    feeder: FeederId
    on_topic: str
    on_payload: str
    off_topic: str
    off_payload: str
