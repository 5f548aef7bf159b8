"""Which installation a verb speaks to."""

import argparse
import json
import os
from pathlib import Path

import pytest

from dosectl.cli import where


def test_the_running_demo_is_named_once_however_often_a_verb_asks(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    monkeypatch.delenv("DOSECTL_CONFIG", raising=False)
    where.demo_note().write_text(json.dumps({"pid": os.getpid(), "config": str(tmp_path / "pool.toml")}), encoding="utf-8")
    asked = argparse.Namespace(config=None)
    assert where.config_path(asked) == where.config_path(asked) == tmp_path / "pool.toml"
    assert capsys.readouterr().err.count("the running demo") == 1
