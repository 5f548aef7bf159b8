"""`dosectl confirm`: shows what changed settings mean in mg/L and pH, then confirms them for one feeder."""

import argparse
import sys

from dosectl.cli.asking import add_common, send
from dosectl.cli.seen import typed, view
from dosectl.cli.verb import REFUSED, Verb


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("feeder", nargs="?", metavar="FEEDER", help="whose settings; left out: shows every sheet that waits")
    add_common(parser)


def _run(arguments: argparse.Namespace) -> int:
    seen = view(arguments)
    if isinstance(seen, int):
        return seen
    sheets = {item["feeder"]: item for item in seen["changes"]}
    wanted = [arguments.feeder] if arguments.feeder else list(sheets)
    for feeder in wanted:
        if feeder not in sheets:
            print(f"nothing waits for {feeder}. Waiting: {', '.join(sheets) or 'none'}", file=sys.stderr)
            return REFUSED
        print(f"{feeder}: the settings differ from the confirmed ones")
        for row in sheets[feeder]["rows"]:
            mark = "RAISES" if row["raises"] else "      "
            print(f"  {mark} {row['field']}: {row['before']} -> {row['after']}  {row['effect']}")
        print(f"  sheet {sheets[feeder]['digest'][:12]}")
    if not arguments.feeder:
        if not sheets:
            print("no changed settings wait")
        return 0
    sheet = sheets[arguments.feeder]
    if not typed(f"Type the sheet's number ({sheet['digest'][:12]}) to confirm: ", sheet["digest"][:12]):
        print("not confirmed; the feeder stays held", file=sys.stderr)
        return REFUSED
    return send(arguments, "confirm_plan", {"feeder": arguments.feeder, "digest": sheet["digest"]})


VERB = Verb("confirm", "Read and confirm changed settings of a feeder.", "dosectl confirm acid", _arguments, _run)
