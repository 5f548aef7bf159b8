"""`dosectl export`: the record as CSV or JSON lines, on stdout."""

import argparse
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

from dosectl.cli.verb import DONE, REFUSED, USAGE, Verb, add_config
from dosectl.cli.where import NoInstallation, installation
from dosectl.store import export
from dosectl.store.faults import JournalError
from dosectl.store.read import Record

FAR = datetime(2100, 1, 1, tzinfo=UTC)


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("table", metavar="TABLE", help=f"what to export ({', '.join(export.TABLES)})")
    parser.add_argument("--days", type=float, default=7.0, metavar="D", help="how far back from the newest decision (7)")
    parser.add_argument("--json-lines", action="store_true", help="JSON lines instead of CSV")
    add_config(parser)


def _run(arguments: argparse.Namespace) -> int:
    if arguments.table not in export.TABLES:
        print(f"dosectl export: there is no table '{arguments.table}'; there are {', '.join(export.TABLES)}", file=sys.stderr)
        return USAGE
    try:
        path = installation(arguments).journal_path
        end = _end(path)
        write = export.to_json_lines if arguments.json_lines else export.to_csv
        count = write(path, arguments.table, end - timedelta(days=arguments.days), end, sys.stdout)
    except (NoInstallation, JournalError) as error:
        print(error, file=sys.stderr)
        return REFUSED
    print(f"{count} rows", file=sys.stderr)
    return DONE


def _end(path: Path) -> datetime:
    """Just after the newest decision, as the record tells it: a simulated pool's clock is not this machine's."""
    with Record(path) as record:
        newest = [decision.as_of for decision in record.why(FAR)]
    return max(newest) + timedelta(minutes=1) if newest else datetime.now(UTC)


VERB = Verb("export", "Write the record out as CSV or JSON lines.", "dosectl export events --days 2", _arguments, _run)
