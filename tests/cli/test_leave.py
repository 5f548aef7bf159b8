"""`dosectl leave` reads the record, and says what can't be known where the daemon is silent."""

import json
import shutil
from pathlib import Path

import pytest

from dosectl.cli.__main__ import main
from dosectl.daemon.parts import CODECS
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.loop import ClosedLoop, demo_loaded
from dosectl.settings.load import load
from dosectl.store.entry import JournalEntry
from dosectl.store.journal import Journal

CONFIG = Path(__file__).parents[2] / "config" / "minimal.toml"


@pytest.fixture
def config(tmp_path: Path) -> Path:
    path = tmp_path / "pool.toml"
    shutil.copy(CONFIG, path)
    for secret in ("broker.password", "broker-password"):
        (tmp_path / secret).write_text("x\n")
    text = "\n".join(line for line in path.read_text().splitlines() if not line.startswith(("password_file", "username", "host")))
    path.write_text(text.replace("[broker]", '[broker]\nhost = "127.0.0.1"\nport = 1'))
    loop = ClosedLoop.of(demo_loaded(), PoolPlant(quince_house(), QUINCE_HOUSE_START, 1), use_mg_l_day=2.4)
    durable = loop.state.durable
    parts = tuple((name, CODECS[name].encode(value)) for name, value in durable.parts())
    journal = Journal.open(load(path).journal_path)
    journal.commit(JournalEntry(1, loop.state.working.last.utc, 1.0, parts=parts), durable_now=True)
    journal.close()
    return path


def test_the_answer_lists_every_condition_and_what_a_silent_daemon_leaves_unknown(
    config: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["leave", "--days", "14", "--json", "--config", str(config)]) == 0
    answer = json.loads(capsys.readouterr().out)
    states = {item["name"]: item["state"] for item in answer["conditions"]}
    assert answer["answer"] == "not ready"
    assert states["probes"] == "can't know"
    assert states["calls"] == "not ready"


def test_an_absence_that_nobody_can_answer_for_is_refused(config: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["leave", "--days", "400", "--config", str(config)]) == 1
    assert "at most 120" in capsys.readouterr().err


def test_a_test_call_without_anybody_to_call_is_refused(config: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["leave", "--test-calls", "--config", str(config)]) == 1
    assert "[notify]" in capsys.readouterr().err
