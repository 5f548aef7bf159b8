"""`dosectl salvage`: copies what can still be read of a damaged journal into a new one."""

import argparse
import sys
from pathlib import Path

from dosectl.cli.verb import DONE, REFUSED, Verb
from dosectl.store.faults import JournalError
from dosectl.store.salvage import salvage


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("damaged", metavar="DAMAGED", help="the journal that was put aside")
    parser.add_argument("fresh", metavar="NEW", help="the journal to make; must not exist")


def _run(arguments: argparse.Namespace) -> int:
    try:
        report = salvage(Path(arguments.damaged), Path(arguments.fresh))
    except JournalError as error:
        print(error, file=sys.stderr)
        return REFUSED
    for table, (rows, whole) in report.items():
        print(f"{table:<16}{rows:>9} rows{'' if whole else ', not all of them readable'}")
    print("Wait one day before feeding: limits may not know all that was fed. Test the water by hand first.")
    return DONE


VERB = Verb(
    "salvage",
    "Copy what can be read of a damaged journal into a new one. Stop the daemon first.",
    "dosectl salvage pool.journal.damaged pool.journal",
    _arguments,
    _run,
)
