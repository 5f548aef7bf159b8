"""Connection to the broker and to the time-series server. Secrets are already read from their files."""

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class BrokerSettings:
    """How to reach the broker.

    protocol : "auto" (MQTT 5, then 3.1.1 where the broker only has that), "5" or "3.1.1"
    password, ca_file : None where none is set; a `ca_file` turns TLS on
    keepalive_s : MQTT keep-alive [s]
    base : first part of all topics of our own, without a trailing slash
    """

    host: str = "localhost"
    port: int = 1883
    protocol: str = "auto"
    username: str | None = None
    password: str | None = field(default=None, repr=False)
    ca_file: str | None = None
    keepalive_s: int = 15
    base: str = "dosectl/pool"


@dataclass(frozen=True, slots=True)
class ForwardSettings:
    """The time-series server that takes line protocol.

    timeout_s : longest wait for one answer [s]; batch_rows : rows in one request
    """

    url: str
    org: str = ""
    bucket: str = "pool"
    token: str = field(default="", repr=False)
    timeout_s: float = 10.0
    batch_rows: int = 2000
