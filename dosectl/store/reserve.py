"""A file that holds room back: on a full disk even throwing old rows away needs a little, and this is given up for it."""

import os
import shutil
from pathlib import Path

RESERVE_BYTES = 16 * 1024 * 1024
KEEP_FREE_BYTES = 64 * 1024 * 1024  # the reserve is made only where it does not itself make the disk short


def free_bytes(path: Path) -> int | None:
    """Room on the disk of `path` for this user, None where the system does not say."""
    try:
        return shutil.disk_usage(path.parent).free
    except OSError:
        return None


class Reserve:
    """`<journal>.reserve`."""

    def __init__(self, journal: Path, size_bytes: int = RESERVE_BYTES) -> None:
        """journal : beside which the file lies."""
        self.path = journal.with_name(journal.name + ".reserve")
        self._size_bytes = size_bytes

    @property
    def held(self) -> bool:
        """The room is held back now."""
        try:
            return self.path.stat().st_size >= self._size_bytes
        except OSError:
            return False

    def take(self) -> bool:
        """Holds the room back where there is plenty; says whether it is held."""
        if self.held:
            return True
        free = free_bytes(self.path)
        if free is None or free < self._size_bytes + KEEP_FREE_BYTES:
            return False
        try:
            handle = os.open(self.path, os.O_WRONLY | os.O_CREAT | os.O_CLOEXEC, 0o600)
            try:
                os.posix_fallocate(handle, 0, self._size_bytes)  # a sparse file would hold nothing back
            finally:
                os.close(handle)
        except OSError:
            self.give()
            return False
        return True

    def give(self) -> bool:
        """Gives the room free; says whether there was any."""
        try:
            self.path.unlink()
        except OSError:
            return False
        return True
