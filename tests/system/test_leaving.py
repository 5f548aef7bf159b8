"""Going away from a pool that is well kept and from one that is not: what the command line answers, what arrives."""

import json
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from tests.daemon.recorded import Recorded
from tests.notify.receivers import HttpReceiver
from tests.system.pool_in_hand import START, thirsty_pool
from tests.system.scene import Scene
from tests.system.test_calls_reach import Phones, arrives, called_scene, code_in, command, texts, written

pytestmark = [pytest.mark.system, pytest.mark.timeout(900)]
WELL_KEPT = thirsty_pool(free_chlorine_mg_l=3.0, ph=7.4)
BEFORE_EIGHT = START - timedelta(minutes=25)
"""07:35 at the pool: the morning's line is due at eight."""


@pytest.fixture
def phones() -> Iterator[Phones]:
    made = Phones()
    yield made
    made.close()


@pytest.fixture
def watcher() -> Iterator[HttpReceiver]:
    made = HttpReceiver()
    yield made
    made.close()


EXITS = {"ready": 0, "not ready": 4, "can't know": 5}  # as the help of `leave` says


def lived_in(folder: Path) -> None:
    """Eight days of the same pool are on record already: its use and its pump's hours are known."""
    folder.mkdir(parents=True)
    pool = Recorded(folder, name="demo.journal", start=BEFORE_EIGHT - timedelta(days=8))
    for quantity in ("free_chlorine", "ph"):
        pool.loop.water_test(quantity, "drops")
    pool.loop.ask("refill", (("feeder", "acid"), ("container_ml", 5000.0)))
    pool.pass_by(8 * 24.0)
    pool.close()


def answer(scene: Scene, days: float = 5.0) -> tuple[str, dict[str, str], str]:
    """What `dosectl leave` says: as a whole, by condition, and as it is printed."""
    status, said, error = command(scene, "leave", "--days", f"{days:g}", "--json")
    found = json.loads(said)
    assert status == EXITS[found["answer"]], error
    states = {item["name"]: item["state"] for item in found["conditions"]}
    return found["answer"], states, command(scene, "leave", "--days", f"{days:g}")[1]


def about(receiver: HttpReceiver, code: str) -> str:
    """The first message of a code, "" before it."""
    return next((text for text in texts(receiver) if f"#{code}:" in text), "")


def put_in_order(scene: Scene, phones: Phones) -> None:
    """What a careful owner does before leaving, at the command line."""
    pool = scene.pool
    for words in (
        ("refill", "acid", "5000"),
        ("test", "salt", "3.2", "meter"),
        ("test", "alkalinity", "80", "drops"),
        ("test", "stabiliser", "50", "turbidity"),
        ("calibrated", "ph"),
        ("calibrated", "orp"),
        ("leave", "--test-calls"),
    ):
        status, said, error = command(scene, *words)
        assert status == 0, f"{words}: {said} {error}"
    arrives(
        pool,
        lambda: about(phones.push, "notify.test") and about(phones.bert, "notify.test") and mailed(phones),
        0.5,
        what="the test reaches both, the owner by either way",
    )
    for text in (about(phones.bert, "notify.test"), about(phones.push, "notify.test"), mailed(phones)):
        status, said, error = command(scene, "answer", "--code", code_in(text))
        assert status == 0, said + error


def mailed(phones: Phones) -> str:
    """The first mail of a test of the ways, "" before it."""
    return next((text for text in map(written, phones.mail.got) if "#notify.test:" in text), "")


def test_a_pool_in_order_may_be_left_and_says_each_morning_that_all_is_well(
    tmp_path: Path, phones: Phones, watcher: HttpReceiver
) -> None:
    lived_in(tmp_path / "pool")
    with called_scene(
        tmp_path, phones, watcher=f"http://127.0.0.1:{watcher.port}/", start=BEFORE_EIGHT, params=WELL_KEPT
    ) as scene:
        pool = scene.pool
        assert command(scene, "away", "--days", "5")[0] == 0
        arrives(pool, lambda: any("All is well" in text for text in texts(phones.push)), 0.7, what="the morning's line")
        (line,) = [text for text in texts(phones.push) if "All is well" in text]
        print(line)
        assert "mg/L" in line

        put_in_order(scene, phones)
        pool.run(600.0)
        whole, states, printed = answer(scene)
        print(printed)
        assert {name: state for name, state in states.items() if state != "ready"} == {}, printed
        assert whole == "ready"
        assert answer(scene, 60.0)[0] == "not ready", "nobody tests the water for two months"

        assert sum("All is well" in text for text in texts(phones.push)) == 1
        assert not any("All is well" in text for text in texts(phones.bert)), "the neighbour hears of it only when asked to help"

        status, said, _ = command(scene, "back")
        assert status == 0, said
        arrives(pool, lambda: any("While you were away" in text for text in texts(phones.push)), 0.5, what="the account")
        (page,) = [text for text in texts(phones.push) if "While you were away" in text]
        print(page)
        assert "no alarms" in page
        status, printed, _ = command(scene, "account")
        assert status == 0
        assert "no alarms" in printed


def test_a_pool_that_was_left_to_itself_gets_a_plain_no_with_what_to_do(tmp_path: Path, phones: Phones) -> None:
    with called_scene(tmp_path, phones) as scene:
        scene.pool.fault("flow_lost")
        scene.pool.run(900.0)
        whole, states, printed = answer(scene)
        print(printed)
        assert whole == "not ready"
        assert states["alarms"] == states["outside watcher"] == "not ready"
        assert states["calls"] == states["salt"] == states["calibration of ph"] == states["pump hours"] == "can't know"
        for line in printed.splitlines():
            assert not line.startswith(("- ", "? ")) or "To do: " in line, line
