"""`dosectl export`: the record as CSV or JSON lines, on stdout."""

import argparse
import sys
from datetime import UTC, datetime, timedelta

from dosectl.cli.verb import DONE, REFUSED, USAGE, Verb, add_config
from dosectl.cli.where import NoInstallation, installation
from dosectl.store import export
from dosectl.store.faults import JournalError


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("table", metavar="TABLE", help=f"what to export ({', '.join(export.TABLES)})")
    parser.add_argument("--days", type=float, default=7.0, metavar="D", help="how far back (7)")
    parser.add_argument("--json-lines", action="store_true", help="JSON lines instead of CSV")
    add_config(parser)


def _run(arguments: argparse.Namespace) -> int:
    if arguments.table not in export.TABLES:
        print(f"dosectl export: there is no table '{arguments.table}'; there are {', '.join(export.TABLES)}", file=sys.stderr)
        return USAGE
    try:
        path = installation(arguments).journal_path
        end = datetime.now(UTC)
        write = export.to_json_lines if arguments.json_lines else export.to_csv
        count = write(path, arguments.table, end - timedelta(days=arguments.days), end, sys.stdout)
    except (NoInstallation, JournalError) as error:
        print(error, file=sys.stderr)
        return REFUSED
    print(f"{count} rows", file=sys.stderr)
    return DONE


VERB = Verb("export", "Write the record out as CSV or JSON lines.", "dosectl export events --days 2", _arguments, _run)
