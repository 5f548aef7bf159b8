"""`dosectl calendar`: reminders as a calendar file (RFC 5545) that any calendar can subscribe to. Written whole, then moved."""

import argparse
import sys
from pathlib import Path

from dosectl.cli.account import kept
from dosectl.cli.verb import DONE, REFUSED, Verb, add_config
from dosectl.cli.where import NoInstallation, installation
from dosectl.core.advice.reminders import reminders
from dosectl.daemon.calendar_feed import feed, view_of, write
from dosectl.store.faults import JournalError
from dosectl.texts.languages import TABLES


def _arguments(parser: argparse.ArgumentParser) -> None:
    add_config(parser)
    parser.add_argument("--out", metavar="FILE", type=Path, help="write it there, for a calendar to read; left out: print it")
    parser.add_argument("--language", choices=sorted(TABLES), default="en", help="of the reminders (default en)")


def _run(arguments: argparse.Namespace) -> int:
    try:
        loaded = installation(arguments)
        durable, now = kept(loaded)
        body = feed(loaded, reminders(view_of(loaded, durable, now)), now, arguments.language)
        if arguments.out is None:
            sys.stdout.buffer.write(body)
            return DONE
        write(arguments.out, body)
    except OSError as error:
        print(
            f"--out {arguments.out}: can't be written ({error.strerror or error}). Name a file in a folder that "
            f"exists and that you "
            "may write to. What was there before is as it was.",
            file=sys.stderr,
        )
        return REFUSED
    except (NoInstallation, JournalError, ValueError) as error:
        print(error, file=sys.stderr)
        return REFUSED
    return DONE


VERB = Verb(
    "calendar",
    "Write the reminders as a calendar file: tests, calibrations, refills, proofs, season.",
    "dosectl calendar --out /srv/pool.ics",
    _arguments,
    _run,
)
