"""A pool whose daemon is silent and whose record holds a running pool's state."""

import shutil
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

import pytest

from dosectl.daemon.parts import CODECS
from dosectl.pool_model.params import DosingPumpParams
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.demo_settings import demo_settings
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


Recorded = Callable[..., tuple[Path, ClosedLoop]]


@pytest.fixture
def recorded(tmp_path: Path) -> Recorded:
    """Makes the record of a pool that ran for two days, and for six hours more with a fault or a request.

    signals : tables that the settings have besides; use_mg_l_day : of chlorine, in each of the days before
    holds_ml : what containers begin with, and are entered to hold
    """

    def made(
        fault: str = "", request: str = "", hypochlorite: bool = False, signals: str = "", use_mg_l_day: float = 2.4,
        holds_ml: Mapping[str, float] | None = None,
    ) -> tuple[Path, ClosedLoop]:  # fmt: skip
        path = tmp_path / "pool.toml"
        path.write_text(demo_settings("127.0.0.1", 1, "5", hypochlorite).replace("[signals.", signals + "[signals.", 1))
        loaded = load(path)
        house, filled = quince_house(hypochlorite), holds_ml or {}
        feeders = tuple(
            replace(feeder, fill_ml=filled[feeder.id]) if isinstance(feeder, DosingPumpParams) and feeder.id in filled else feeder
            for feeder in house.feeders
        )
        plant = PoolPlant(replace(house, feeders=feeders), QUINCE_HOUSE_START, 1)
        loop = ClosedLoop.of(loaded, plant, use_mg_l_day=use_mg_l_day)
        for name, left_ml in filled.items():
            loop.ask("refill", (("feeder", name), ("container_ml", left_ml)))
        for hours in (48.0, 6.0):
            for _ in loop.run(hours):
                pass
            if hours > 6.0 and fault:
                loop.plant.set_fault(fault, True)
            if hours > 6.0 and request:
                loop.ask(request, ())
        durable = loop.state.durable
        parts = tuple((name, CODECS[name].encode(value)) for name, value in durable.parts())
        journal = Journal.open(loaded.journal_path)
        entry = JournalEntry(1, loop.state.working.last.utc, durable.clocks.clock_s, parts=parts, ledger=durable.ledger)
        journal.commit(entry, durable_now=True)
        journal.close()
        return path, loop

    return made
