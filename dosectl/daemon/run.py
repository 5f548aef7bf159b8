"""The daemon's life: start, reload on SIGHUP as a restart of the plan, orderly end on SIGTERM and SIGINT."""

import logging
import signal
from collections.abc import Callable
from pathlib import Path
from types import FrameType

from dosectl.daemon.core_loop import End
from dosectl.daemon.inbox import Inbox, Signalled
from dosectl.daemon.watchdog import ServiceManager
from dosectl.daemon.wiring import Installation, Options
from dosectl.settings.findings import SettingsError
from dosectl.settings.load import Loaded, load
from dosectl.store.faults import JournalError, JournalFull

log = logging.getLogger("dosectl.daemon")

DONE, REFUSED = 0, 1
ROOM_LOOKED_FOR_S = 5.0


def run_daemon(config: Path, options: Options, say: Callable[[str], None]) -> int:
    """Runs until told to end. Returns the exit status: 0 ended in order, 1 refused to start, with the reason said."""
    manager, inbox = ServiceManager(), Inbox()
    next_plan: list[Loaded] = []
    running: list[Installation] = []

    def on_stop(_number: int, _frame: FrameType | None) -> None:
        inbox.put(Signalled("stop"))

    def on_reload(_number: int, _frame: FrameType | None) -> None:
        """A file that can't be used changes nothing; it is looked at here, before anything is stopped."""
        try:
            changed = load(config)
            for installation in running:
                installation.refuse(changed)
        except SettingsError as error:
            log.error("the changed settings can't be used, so the running plan stays: %s", error)
            return
        next_plan[:] = [changed]
        manager.reloading()
        inbox.put(Signalled("reload"))

    signal.signal(signal.SIGTERM, on_stop)
    signal.signal(signal.SIGINT, on_stop)
    signal.signal(signal.SIGHUP, on_reload)

    try:
        loaded = load(config)
    except SettingsError as error:
        say(str(error))
        return REFUSED
    while True:
        for warning in loaded.warnings:
            log.warning("%s", warning)
        try:
            running[:] = [Installation(loaded, options, manager, inbox)]
            ended = running[0].run()
        except JournalFull as error:
            # To end would only make the service manager try again until it gives up; a disk gets room by itself or by a person.
            log.error("%s", error)
            if not _room_awaited(manager, inbox):
                return DONE
            continue
        except (JournalError, SettingsError) as error:
            say(str(error))
            return REFUSED
        if ended is End.STOP:
            return DONE
        loaded = next_plan.pop() if next_plan else loaded
        log.info("the plan is restarted with the changed settings, under the start-up hold")


def _room_awaited(manager: ServiceManager, inbox: Inbox) -> bool:
    """Waits a little for room on the disk; False where it was told to end meanwhile."""
    manager.waiting("no room for the record: nothing is fed until there is", 10 * ROOM_LOOKED_FOR_S)
    return Signalled("stop") not in inbox.take(ROOM_LOOKED_FOR_S)
