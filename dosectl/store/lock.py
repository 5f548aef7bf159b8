"""One instance per pool: a lock file beside the journal, held by the kernel for the life of the process.

`flock` and not a pid file: the kernel lets go when the process dies, so no stale lock ever needs a person.
"""

import fcntl
import os
import socket
from datetime import UTC, datetime
from pathlib import Path

from dosectl.store.faults import JournalFailed, JournalInUse


class InstanceLock:
    """Holds `<journal>.lock`. The file tells a person who holds it: pid, host and since when."""

    def __init__(self, journal: Path) -> None:
        """Takes the lock. Raises JournalInUse while another process (or another journal object) holds it."""
        self.path = journal.with_name(journal.name + ".lock")
        try:
            handle = os.open(self.path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
        except OSError as error:
            raise JournalFailed(
                f"{self.path}: the lock file can't be opened ({error.strerror}). Without it two controllers could feed one pool. "
                f"Make the folder writable for this user."
            ) from error
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            holder = os.pread(handle, 300, 0).decode("utf-8", "replace").strip() or "an unknown process"
            os.close(handle)
            raise JournalInUse(
                f"{journal}: this pool's journal is held by {holder}. Two controllers on one pool could feed twice. "
                f"Stop that process first, or give this one a journal of its own."
            ) from error
        self._handle: int | None = handle
        self._say_who()

    def _say_who(self) -> None:
        text = f"pid {os.getpid()} on {socket.gethostname()} since {datetime.now(UTC).isoformat(timespec='seconds')}\n"
        assert self._handle is not None
        try:
            os.ftruncate(self._handle, 0)
            os.pwrite(self._handle, text.encode(), 0)
        except OSError:
            # A full disk must not keep the controller from starting and saying so; the kernel's lock holds all the same.
            return

    def release(self) -> None:
        """Lets go; the file stays, as removing it would race with the next taker. Safe to call twice."""
        if self._handle is not None:
            os.close(self._handle)
            self._handle = None
