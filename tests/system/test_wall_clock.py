"""The daemon on the machine's own clock, with a node that is not simulated: what a stall or a death of any part leaves on.

Four installations are started together, as each must first wait out its start-up hold of two minutes: the shortest there is.
"""

import signal
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest

from dosectl.bus.ask import Asker
from dosectl.core.interlocks.arbiter import RESERVE_S
from dosectl.core.requests.kinds.attest_proof import YES, questions_for
from dosectl.model.requests import Place
from dosectl.settings.load import Loaded, load
from tests.services import Child, eventually
from tests.system.record import booked_g
from tests.system.stage import Daemon, guarded_broker
from tests.system.wall_pool import BASE, WallPool, wall_daemon

pytestmark = [pytest.mark.system, pytest.mark.xdist_group("wall_clock"), pytest.mark.timeout(420)]

NAMES = ("flow", "broker_stall", "broker_death", "daemon_stall", "daemon_death")
HOLD_LIMIT_S = 240.0


@dataclass
class WallScene:
    """One installation in real time."""

    folder: Path
    broker: Child
    pool: WallPool
    daemon: Daemon
    loaded: Loaded

    def ask(self, kind: str, facts: dict[str, float | int | bool | str]) -> None:
        with Asker(self.loaded.broker) as asker:
            answer = asker.ask("dosectl", Place.CONSOLE, kind, facts, by="test")
        assert answer is not None, f"no reply to {kind}"
        assert answer.done, answer.text

    def end(self) -> None:
        self.daemon.kill()
        self.pool.close()
        self.broker.kill()

    def ons_after(self, at_s: float) -> list[tuple[float, dict[str, object]]]:
        return [(heard_at, body) for heard_at, body in list(self.pool.heard) if body["do"] == "on" and heard_at > at_s]

    def never_obeyed_a_late_on(self, since: datetime) -> bool:
        """Each time the node switched on after `since`, the command that did it was issued after it too."""
        for at_s, on in list(self.pool.switched):
            if on and at_s > time.monotonic() - (datetime.now(UTC) - since).total_seconds():
                body = [body for heard_at, body in self.pool.heard if heard_at <= at_s][-1]
                if datetime.fromisoformat(str(body["issued_utc"])) < since:
                    return False
        return True


def _scene(folder: Path) -> WallScene:
    folder.mkdir()
    broker = guarded_broker(folder / "broker", BASE)
    broker.start()
    daemon = wall_daemon(folder, broker.port)
    daemon.start()
    return WallScene(folder, broker, WallPool(broker.port), daemon, load(daemon.config))


@pytest.fixture(scope="module")
def scenes(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, WallScene]]:
    folder = tmp_path_factory.mktemp("wall")
    made: dict[str, WallScene] = {}
    try:
        for name in NAMES:
            made[name] = _scene(folder / name)
        for scene in made.values():
            eventually(lambda scene=scene: scene.pool.state, 30, "the daemon shows its state")  # type: ignore[misc]
            feeder = scene.loaded.site.feeders[0]
            scene.ask("attest_proof", {"feeder": feeder.id, **{question.key: YES for question in questions_for(feeder)}})
            scene.ask("water_test", {"quantity": "free_chlorine", "value": 0.8, "method": "drops", "as_said": True})
        started = time.monotonic()
        for name, scene in made.items():
            eventually(lambda scene=scene: scene.pool.on, HOLD_LIMIT_S, f"{name}: {scene.pool.state}")  # type: ignore[misc]
        assert time.monotonic() - started > 60.0, "a feed began long before the start-up hold was over"
        yield made
    finally:
        for scene in made.values():
            scene.end()


def _shown_at(scene: WallScene) -> datetime:
    """When the state that was heard last was made."""
    return datetime.fromisoformat(scene.pool.state["at_utc"])


def test_lost_flow_wakes_the_daemon_and_ends_the_feed(scenes: dict[str, WallScene]) -> None:
    scene = scenes["flow"]
    scene.pool.set_flow(False)
    eventually(lambda: not scene.pool.on, what="the node is off")
    assert scene.pool.heard[-1][1]["do"] == "off"  # by a command, not by its expiry
    lost_at = time.monotonic()
    scene.pool.set_flow(True)
    time.sleep(8.0)
    assert scene.ons_after(lost_at) == []
    scene.daemon.signal(signal.SIGTERM)
    assert scene.daemon.wait() == 0


def test_a_broker_that_stalls_ends_the_feed_at_the_node_and_brings_no_late_on(scenes: dict[str, WallScene]) -> None:
    scene = scenes["broker_stall"]
    scene.broker.freeze()
    eventually(lambda: not scene.pool.on, scene.loaded.site.expires_s + 10.0, "the node ends the feed by itself")
    time.sleep(6.0)  # long enough for a renewal or two to lie in a buffer
    thawed = datetime.now(UTC)
    scene.broker.thaw()
    # Its newest view, not its next command: an OFF of the stall may have come while the node itself was connecting again.
    eventually(lambda: _shown_at(scene) > thawed, 40, "the daemon shows a state of after the stall")
    time.sleep(6.0)
    assert scene.never_obeyed_a_late_on(thawed)
    assert scene.daemon.running


def test_a_broker_that_dies_ends_the_feed_at_the_node_and_brings_no_late_on(scenes: dict[str, WallScene]) -> None:
    scene = scenes["broker_death"]
    scene.broker.kill()
    eventually(lambda: not scene.pool.on, scene.loaded.site.expires_s + 10.0, "the node ends the feed by itself")
    back = datetime.now(UTC)
    scene.pool.state = {}
    scene.broker.start()
    eventually(lambda: scene.pool.state, 40, "the daemon is back at the broker, and so is the node")
    time.sleep(6.0)
    assert scene.never_obeyed_a_late_on(back)
    assert scene.daemon.running


def test_a_daemon_that_stalls_ends_the_feed_at_the_node_and_feeds_nothing_on_waking(scenes: dict[str, WallScene]) -> None:
    scene = scenes["daemon_stall"]
    scene.daemon.signal(signal.SIGSTOP)
    eventually(lambda: not scene.pool.on, scene.loaded.site.expires_s + 10.0, "the node ends the feed by itself")
    time.sleep(8.0)
    woken, woken_at = datetime.now(UTC), time.monotonic()
    scene.daemon.signal(signal.SIGCONT)
    eventually(lambda: any(at > woken_at for at, _ in scene.pool.heard), 30, "the daemon speaks again")
    time.sleep(3.0)
    assert scene.never_obeyed_a_late_on(woken)
    feeder = scene.loaded.site.feeders[0]
    assert booked_g(scene.folder / "pool.journal", feeder.id) >= scene.pool.on_s * feeder.rate_g_s


def test_a_daemon_that_dies_ends_the_feed_at_the_node_and_holds_after_its_start(scenes: dict[str, WallScene]) -> None:
    scene = scenes["daemon_death"]
    feeder = scene.loaded.site.feeders[0]
    journal = scene.folder / "pool.journal"
    scene.daemon.kill()
    eventually(lambda: not scene.pool.on, scene.loaded.site.expires_s + 10.0, "the node ends the feed by itself")
    fed = scene.pool.on_s * feeder.rate_g_s
    died_at = time.monotonic()
    assert fed <= booked_g(journal, feeder.id) <= fed + feeder.rate_g_s * (RESERVE_S + 5.0)
    scene.pool.state = {}
    scene.daemon.start()
    eventually(lambda: scene.pool.state, 30, "the daemon shows its state")
    time.sleep(8.0)
    assert scene.ons_after(died_at) == []
    assert any(row["guard"] == "start.hold" and row["denies"] for row in scene.pool.state["interlocks"])
    assert fed <= booked_g(journal, feeder.id) <= fed + feeder.rate_g_s * (RESERVE_S + 5.0)
