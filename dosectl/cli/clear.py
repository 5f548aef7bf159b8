"""`dosectl clear`: clears a latched trip. Shows its reason first; what is cleared is what was read."""

import argparse
import sys

from dosectl.cli.asking import add_common, send
from dosectl.cli.seen import typed, view
from dosectl.cli.verb import REFUSED, Verb


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "latch", nargs="?", metavar="LATCH", help="which trip; left out: lists the latched ones with their reasons"
    )
    add_common(parser)


def _run(arguments: argparse.Namespace) -> int:
    seen = view(arguments)
    if isinstance(seen, int):
        return seen
    latches = {item["latch"]: item for item in seen["latches"]}
    if arguments.latch is None:
        for key, item in latches.items():
            print(f"{key}\n    {item['text']}")
        if not latches:
            print("nothing is latched")
        return 0
    item = latches.get(arguments.latch) or next((i for k, i in latches.items() if k.split(":")[0] == arguments.latch), None)
    if item is None:
        print(f"{arguments.latch} is not latched. Latched: {', '.join(latches) or 'none'}", file=sys.stderr)
        return REFUSED
    print(item["text"])
    if not typed(f"Mend the cause first. Type the reason's code ({item['code']}) to clear: ", item["code"]):
        print("not cleared", file=sys.stderr)
        return REFUSED
    return send(arguments, "clear_latch", {"latch": item["latch"], "reason": item["code"]})


VERB = Verb("clear", "Clear a latched trip after its cause was mended.", "dosectl clear", _arguments, _run)
