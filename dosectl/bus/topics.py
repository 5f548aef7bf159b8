"""Every topic name of our own, made from one base."""

from dataclasses import dataclass

from dosectl.model.feeds import FeederId
from dosectl.model.reasons import Code
from dosectl.model.requests import Place
from dosectl.model.signals import NodeId


@dataclass(frozen=True, slots=True)
class Topics:
    """Names below `base`, such as `dosectl/home`. Raises ValueError for a base that is no plain topic."""

    base: str

    def __post_init__(self) -> None:
        levels = self.base.split("/")
        if not all(levels) or self.base.startswith("$") or set(self.base) & set("#+\x00"):
            raise ValueError(f"base topic {self.base!r}: levels of text, without #, +, an empty level or a leading $ are needed")

    @property
    def alive(self) -> str:
        """Retained "1" while the daemon is connected, "0" by its last will or its end."""
        return f"{self.base}/daemon/alive"

    @property
    def echo(self) -> str:
        """The daemon's own heartbeat, there and back."""
        return f"{self.base}/daemon/echo"

    @property
    def state(self) -> str:
        """Retained view of the whole state, JSON."""
        return f"{self.base}/state"

    @property
    def summary(self) -> str:
        """Retained summary of the last day, JSON."""
        return f"{self.base}/summary"

    @property
    def pump_hours(self) -> str:
        """Retained: hours of flow that the coming day needs, a plain number; a hub may follow it."""
        return f"{self.base}/pump_hours"

    def alarm(self, code: Code) -> str:
        """Retained state of one alarm, JSON; empty when it is gone for good."""
        return f"{self.base}/alarm/{code}"

    def command(self, feeder: FeederId) -> str:
        """Commands to the node that carries the feeder."""
        return f"{self.base}/feeder/{feeder}/command"

    def node_status(self, node: NodeId) -> str:
        """What a node says of itself."""
        return f"{self.base}/node/{node}/status"

    def node_alive(self, node: NodeId) -> str:
        """A node's last will; liveness is judged by the age of its status, not by this."""
        return f"{self.base}/node/{node}/alive"

    def ask(self, account: str, place: Place) -> str:
        """Where an account may ask from a place; the broker's access list reserves it."""
        return f"{self.base}/ask/{account}/{place.value}"

    @property
    def asks(self) -> str:
        """Subscription to all requests."""
        return f"{self.base}/ask/+/+"

    def asker(self, topic: str) -> tuple[str, Place] | None:
        """Account and place of a request topic, None where it is none or the place is unknown."""
        head = f"{self.base}/ask/"
        levels = topic[len(head) :].split("/")
        if not topic.startswith(head) or len(levels) != 2 or not levels[0]:
            return None
        try:
            return levels[0], Place(levels[1])
        except ValueError:
            return None

    def reply(self, account: str) -> str:
        """Replies to an account's requests."""
        return f"{self.base}/reply/{account}"

    @property
    def sim_tick(self) -> str:
        """Simulated pool only: the plant's clock."""
        return f"{self.base}/sim/tick"

    @property
    def sim_done(self) -> str:
        """Simulated pool only: the daemon has done its step of a tick."""
        return f"{self.base}/sim/done"

    @property
    def sim_fault(self) -> str:
        """Simulated pool only: fault injection."""
        return f"{self.base}/sim/fault"

    @property
    def sim_truth(self) -> str:
        """Simulated pool only: what the water really is. The daemon never subscribes to it."""
        return f"{self.base}/sim/truth"
