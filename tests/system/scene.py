"""Broker, pool in hand and daemon together, up to the first feed."""

import signal
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

from dosectl.pool_model.params import PlantParams
from tests.services import Child
from tests.system.pool_in_hand import START, PoolInHand, thirsty_pool
from tests.system.stage import Daemon, Installation, guarded_broker

SOON = "\n[control]\ncell_on_s_min = 600\n"
"""Settings with which a cell does not gather a long run first."""


class Scene:
    """One installation at its own broker."""

    def __init__(self, broker: Child, installation: Installation, pool: PoolInHand) -> None:
        self.broker = broker
        self.installation = installation
        self.pool = pool

    @property
    def daemon(self) -> Daemon:
        return self.installation.daemon

    def begin(self, *words: str, environment: Mapping[str, str] | None = None) -> "Scene":
        """Starts the daemon, proves every feeder, tests the water."""
        self.daemon.start(*words, environment=environment)
        self.pool.tick(gave_up=self._ended)
        assert self.daemon.running, self.daemon.said()
        self.pool.prove(*self.installation.loaded.site.feeders)
        self.pool.test_water()
        return self

    def feeding(self, feeder: str = "cell", limit_h: float = 4.0) -> "Scene":
        """Lets time pass until the node has this feeder on."""
        self.pool.until(lambda: self.pool.running(feeder), limit_h, what=f"{feeder} is fed: {self.daemon.said()[-500:]}")
        return self

    def again(self, *words: str, environment: Mapping[str, str] | None = None) -> None:
        """Starts the daemon anew and waits for its first step."""
        self.daemon.start(*words, environment=environment)
        self.pool.tick(gave_up=self._ended)
        assert self.daemon.running, self.daemon.said()

    def ended(self) -> int:
        """SIGTERM, and time passes until it has ended: its exit status."""
        self.daemon.signal(signal.SIGTERM)
        for _ in range(60):
            if not self.pool.tick(gave_up=self._ended) or self._ended():
                break
        return self.daemon.wait()

    def _ended(self) -> bool:
        return not self.daemon.running


@contextmanager
def scene_at(
    folder: Path, params: PlantParams | None = None, more: str = SOON, hypochlorite: bool = False, start: datetime = START
) -> Iterator[Scene]:
    """Everything but the daemon runs; all of it is gone at the end."""
    broker = guarded_broker(folder / "broker", "dosectl/demo")
    broker.start()
    installation = Installation(folder / "pool", broker.port, more, hypochlorite)
    pool = PoolInHand(broker.port, params or thirsty_pool(hypochlorite, ph=7.4), start=start)
    try:
        yield Scene(broker, installation, pool.ready())
    finally:
        installation.daemon.kill()
        pool.close()
        broker.kill()
