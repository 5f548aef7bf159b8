"""Room held back for a full disk is really held, and given up when it is needed."""

import os
from pathlib import Path

import pytest

from dosectl.store import reserve
from dosectl.store.journal import Journal
from dosectl.store.reserve import RESERVE_BYTES, Reserve


def test_the_reserve_takes_real_blocks_and_gives_them_back(tmp_path: Path) -> None:
    held = Reserve(tmp_path / "pool.journal")
    assert held.take()
    found = os.stat(held.path)
    assert found.st_size == RESERVE_BYTES
    assert found.st_blocks * 512 >= RESERVE_BYTES
    assert held.take()
    assert held.give()
    assert not held.give()
    assert not held.held


def test_no_reserve_is_taken_where_it_would_itself_fill_the_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reserve, "free_bytes", lambda _: 50 * 1024 * 1024)
    held = Reserve(tmp_path / "pool.journal")
    assert not held.take()
    assert not held.path.exists()


def test_a_reserve_that_can_not_be_filled_is_not_left_half_made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "posix_fallocate", full)
    held = Reserve(tmp_path / "pool.journal")
    assert not held.take()
    assert not held.path.exists()


def test_a_journal_takes_its_reserve_when_it_is_opened(tmp_path: Path) -> None:
    journal = Journal.open(tmp_path / "pool.journal")
    assert journal.reserve.held
    assert not journal.needs_room
    assert journal.free_bytes is not None
    assert journal.free_bytes > 0
    journal.close()
