"""Secrets come from files. What is wrong with such a file is said without showing what stands in it."""

import stat
from pathlib import Path

from dosectl.settings.findings import Finding

BYTES_MAX = 10_000


def read_secret(path: Path, key: str) -> tuple[str, tuple[Finding, ...], tuple[str, ...]]:
    """The secret in the file (its last line end cut off), findings that refuse it, warnings that don't."""
    try:
        mode = path.stat().st_mode
        with path.open("rb") as file:
            raw = file.read(BYTES_MAX + 1)
    except (OSError, ValueError) as error:
        why = f"the file can't be read: {getattr(error, 'strerror', None) or 'its name has a NUL'}"
        return "", (Finding(key, f'"{path}"', why, "make the file, readable for the daemon's user only"),), ()
    try:
        secret = raw.decode("utf-8").rstrip("\r\n")
    except UnicodeDecodeError:
        return "", (Finding(key, f'"{path}"', "the file is no UTF-8 text", "put the secret alone in it, as text"),), ()
    if not secret or len(raw) > BYTES_MAX or "\n" in secret:
        why = "the file is empty" if not secret else "the file holds more than one line"
        return "", (Finding(key, f'"{path}"', why, "put the secret alone in it, on one line"),), ()
    if mode & (stat.S_IRGRP | stat.S_IROTH):
        others = "everyone" if mode & stat.S_IROTH else "its group"
        return secret, (), (f'{key} = "{path}": {others} on this machine may read it. Set its mode to 600.',)
    return secret, (), ()
