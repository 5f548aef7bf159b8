"""Each verb of the command line at a running daemon, by the owner's own account: what it does, says and returns."""

import json
import signal
from pathlib import Path

import pytest

from tests.system.pool_in_hand import START
from tests.system.scene import SOON, Scene, scene_at
from tests.system.stage import run_words

pytestmark = pytest.mark.system


def said(scene: Scene, *words: str, typed: str = "", config: Path | None = None) -> tuple[int, str, str]:
    """Runs a verb beside the pool: exit status, stdout, stderr."""
    path = config or scene.installation.owner_config
    return scene.pool.beside(run_words(*words, "--config", str(path), typed=typed))


def test_stop_ends_a_feed_at_once_and_release_lets_it_begin_again(scene: Scene) -> None:
    scene.begin().feeding()
    status, out, _ = said(scene, "stop")
    assert status == 0
    assert out.strip()
    assert not scene.pool.running("cell")
    status, out, _ = said(scene, "status", "--json")
    assert status == 0
    view = json.loads(out)
    assert view["view"] == 1
    assert any(row["guard"] == "stop.manual" for row in view["interlocks"])
    status, out, _ = said(scene, "release")
    assert status == 0
    scene.feeding()


def test_status_shows_water_feeders_and_that_the_pool_is_simulated(scene: Scene) -> None:
    scene.begin()
    status, out, _ = said(scene, "status", "--signals")
    assert status == 0
    for word in ("Quince House", "SIMULATED", "free chlorine", "cell", "acid", "orp"):
        assert word in out


def test_every_interlock_is_shown_with_its_last_trip_and_those_that_are_off_first(scene: Scene) -> None:
    scene.begin().feeding()
    # The view is put out once a second of the machine's own time, in which much simulated time passes.
    scene.pool.until(lambda: all(row["guard"] != "start.hold" for row in scene.pool.view["interlocks"]), 0.5)
    status, out, _ = said(scene, "guards", "--json")
    assert status == 0
    found = {row["guard"]: row for row in json.loads(out)}
    assert len(found) > 45
    assert found["start.hold"]["verdict"] == "permits"
    assert found["start.hold"]["tripped"]
    assert found["probe.agreement"]["verdict"] == "off"
    status, out, _ = said(scene, "guards")
    assert status == 0
    assert "OFF" in out
    lines = out.splitlines()
    place = next(n for n, line in enumerate(lines) if line.startswith("flow.proven "))
    assert lines[place].split()[1] == "permits"
    assert "flow proven" in lines[place + 1]
    assert len(lines) < 6 * len(found), "sentences, not columns of single letters"


def test_water_tests_are_entered_and_a_slip_is_withdrawn(scene: Scene) -> None:
    scene.begin()
    status, out, _ = said(scene, "test", "free_chlorine", "1.2", "drops", "--json")
    assert status == 0
    reply = json.loads(out)
    assert reply["done"]
    assert said(scene, "test", "--withdraw", str(reply["facts"]["test"]))[0] == 0
    status, out, error = said(scene, "test", "--withdraw", "nosuchtest")
    assert status == 1
    assert "nosuchtest" in out + error
    status, out, error = said(scene, "test", "free_chlorine", "280", "drops")
    assert status == 1
    assert "Traceback" not in error
    assert said(scene, "test")[0] == 2


def test_refill_service_and_dispense_are_judged_by_the_daemon(scene: Scene) -> None:
    scene.begin().feeding()
    assert said(scene, "refill", "acid", "5000")[0] == 0
    status, out, _ = said(scene, "refill", "acid", "50000")
    assert status == 1
    assert said(scene, "service", "on", "--note", "new tube")[0] == 0
    assert not scene.pool.running("cell")
    place = len(scene.pool.wire)
    scene.pool.run(300.0)
    assert not scene.pool.ons(since=place)
    assert said(scene, "service", "off")[0] == 0
    status, out, error = said(scene, "dispense", "nosuch", "10")
    assert status == 1
    assert "nosuch" in out + error


def test_an_alarm_is_answered_and_a_latch_cleared_by_its_reason(scene: Scene) -> None:
    scene.begin().feeding()
    pool = scene.pool
    status, out, _ = said(scene, "clear")
    assert (status, out.strip()) == (0, "nothing is latched")
    pool.say("feeder/cell/command", {"do": "on", "no": 10**6, "owner": "another", "level": 1.0, "expires_s": 10.0})
    pool.until(lambda: pool.view["latches"] and pool.view["alarms"], 0.5, what="it is latched and an alarm stands")
    status, out, _ = said(scene, "answer")
    assert status == 0
    alarm = pool.view["alarms"][0]["code"]
    assert alarm in out
    assert said(scene, "answer", alarm)[0] == 0
    assert said(scene, "answer", "no.such")[0] == 1
    assert next(item for item in pool.view["alarms"] if item["code"] == alarm)["acked"]
    latch = pool.view["latches"][0]
    status, out, error = said(scene, "clear", latch["latch"], typed="something else\n")
    assert status == 1
    assert latch["text"] in out
    assert "not cleared" in error
    assert said(scene, "clear", latch["latch"], typed=latch["code"] + "\n")[0] == 0
    pool.run(6.0)
    assert pool.view["latches"] == []


def test_a_proof_is_attested_by_typed_answers_and_one_no_writes_nothing(scene: Scene) -> None:
    scene.daemon.start()
    scene.pool.run(9.0)
    status, _, error = said(scene, "attest", "cell", typed="yes\nno\n")
    assert status == 1
    assert "question 2" in error
    assert said(scene, "attest", "nosuch")[0] == 1
    scene.pool.run(9.0)
    assert scene.pool.view["proofs"] == []
    status, out, _ = said(scene, "attest", "cell", typed="yes\n" * 40)
    assert status == 0
    assert "attested" in out
    scene.pool.run(9.0)
    assert [(proof["feeder"], proof["attested"]) for proof in scene.pool.view["proofs"]] == [("cell", True)]


def test_changed_settings_are_shown_and_confirmed_by_the_sheets_number(scene: Scene) -> None:
    scene.begin().feeding()
    pool = scene.pool
    status, out, _ = said(scene, "confirm")
    assert (status, out.strip()) == (0, "no changed settings wait")
    scene.installation.rewrite(SOON + "\n[guards.mass.hour]\nchlorine_mg_l = 1.2\n")
    scene.daemon.signal(signal.SIGHUP)
    pool.until(lambda: pool.view["changes"], 0.2)
    status, out, _ = said(scene, "confirm")
    assert status == 0
    assert "RAISES" in out
    assert "1.2" in out
    assert said(scene, "confirm", "cell", typed="\n")[0] == 1
    digest = next(item for item in pool.view["changes"] if item["feeder"] == "cell")["digest"]
    assert said(scene, "confirm", "cell", typed=digest[:12] + "\n")[0] == 0
    pool.run(9.0)
    assert not any(item["feeder"] == "cell" for item in pool.view["changes"])


def test_the_record_is_asked_why_and_written_out_and_the_topics_are_listened_to(scene: Scene) -> None:
    scene.begin().feeding()
    scene.pool.run(30.0)
    status, out, _ = said(scene, "why")
    assert status == 0
    assert "cell: " in out
    assert "acid: " in out
    status, out, error = said(scene, "export", "events", "--json-lines")
    assert status == 0
    assert json.loads(out.splitlines()[0])["code"]
    assert error.strip().endswith("rows")
    assert said(scene, "export", "nosuch")[0] == 2
    status, out, _ = said(scene, "listen", "--for-s", "2", config=scene.installation.config)
    assert status == 0
    assert "orp = " in out


def test_without_a_daemon_or_a_broker_or_a_file_it_says_so_and_returns_3_or_1(scene: Scene, tmp_path: Path) -> None:
    def run(*words: str) -> tuple[int, str]:
        process = run_words(*words, environment={"DOSECTL_CONFIG": "", "XDG_RUNTIME_DIR": str(tmp_path)})
        out, error = process.communicate(timeout=60)
        return process.returncode, out + error

    config = str(scene.installation.owner_config)
    status, text = run("stop", "--config", config, "--wait-s", "1.5")
    assert status == 3
    assert "no answer" in text
    assert "cut the feeders' power" in text
    assert run("status", "--config", config)[0] == 3
    scene.broker.kill()
    status, text = run("stop", "--config", config)
    assert status == 3
    assert "broker" in text
    status, text = run("stop", "--config", str(tmp_path / "none.toml"))
    assert status == 1
    assert "none.toml" in text
    assert run("stopp")[0] == 2
    assert run("stop", "--nosuch")[0] == 2


@pytest.mark.parametrize("year", [2020, 2090])
def test_a_request_to_a_simulated_pool_is_taken_whatever_year_the_pool_lives_in(tmp_path: Path, year: int) -> None:
    with scene_at(tmp_path, start=START.replace(year=year)) as scene:
        scene.daemon.start()
        scene.pool.run(9.0)
        status, out, error = said(scene, "test", "ph", "7.4", "drops")
        assert status == 0, out + error
