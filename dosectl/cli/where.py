"""Which installation a verb speaks to: by option, environment, the running demo, or the usual place."""

import argparse
import json
import os
import sys
import tempfile
from pathlib import Path

from dosectl.settings.findings import SettingsError
from dosectl.settings.load import Loaded, load

USUAL = Path("/etc/dosectl/pool.toml")


class NoInstallation(Exception):
    """No settings file was found, or it can't be used; the text says what to do."""


def demo_note() -> Path:
    """Where a running demo says where its settings lie: in this user's run-time folder, else beside the temporary files."""
    folder = os.environ.get("XDG_RUNTIME_DIR") or tempfile.gettempdir()
    return Path(folder) / f"dosectl-demo-{os.getuid()}.json"


def _running_demo() -> Path | None:
    """The settings file of a demo that still runs, None where there is none."""
    try:
        note = json.loads(demo_note().read_text(encoding="utf-8"))
        os.kill(int(note["pid"]), 0)
        return Path(note["config"])
    except (OSError, ValueError, LookupError, TypeError):
        return None


def config_path(arguments: argparse.Namespace) -> Path:
    """The settings file. Raises NoInstallation where none is named and none is at a usual place."""
    if arguments.config:
        return Path(arguments.config)
    if named := os.environ.get("DOSECTL_CONFIG"):
        return Path(named)
    demo = _running_demo()
    if demo is not None:
        print(f"(the running demo: {demo})", file=sys.stderr)
        arguments.config = str(demo)  # said once, however often a verb asks
        return demo
    if USUAL.exists():
        return USUAL
    raise NoInstallation(
        f"no settings file: name one with --config, or start 'dosectl demo'. Looked at DOSECTL_CONFIG and {USUAL}."
    )


def installation(arguments: argparse.Namespace) -> Loaded:
    """The settings of the installation that is meant. Raises NoInstallation with the reasons."""
    path = config_path(arguments)
    try:
        return load(path)
    except SettingsError as error:
        raise NoInstallation(str(error)) from error
