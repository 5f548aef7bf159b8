"""`dosectl answer`: "I know of this alarm". Never "fixed", never a reset."""

import argparse
import sys

from dosectl.cli.asking import add_common, send
from dosectl.cli.seen import view
from dosectl.cli.verb import REFUSED, USAGE, Verb


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("alarm", nargs="?", metavar="ALARM", help="code of the alarm; left out: lists the standing ones")
    parser.add_argument("--occurrence", type=int, metavar="N", help="which occurrence; left out: the one that stands now")
    parser.add_argument("--code", metavar="WORD", help="the code in the message that called you; then ALARM is not needed")
    add_common(parser)


def _run(arguments: argparse.Namespace) -> int:
    if arguments.code is not None:
        return send(arguments, "answer_alarm", {"code": arguments.code})
    occurrence = arguments.occurrence
    if occurrence is not None and arguments.alarm is None:
        words = "of which alarm? Name it too: dosectl answer ALARM --occurrence"
        print(f"--occurrence {occurrence}: {words} {occurrence}. 'dosectl answer' lists those that stand.", file=sys.stderr)
        return USAGE
    if occurrence is not None and occurrence < 1:
        print(f"--occurrence {occurrence}: accepted is 1 and more. Leave it out for the one that stands now.", file=sys.stderr)
        return USAGE
    if arguments.alarm is None or occurrence is None:
        seen = view(arguments)
        if isinstance(seen, int):
            return seen
        standing = {item["code"]: item for item in seen["alarms"]}
        if arguments.alarm is None:
            for item in standing.values():
                print(f"{item['code']} (occurrence {item['occurrence']}, {item['priority']}): {item['text']}")
            if not standing:
                print("no alarm stands")
            return 0
        if arguments.alarm not in standing:
            print(f"{arguments.alarm} does not stand. Standing: {', '.join(standing) or 'none'}", file=sys.stderr)
            return REFUSED
        occurrence = standing[arguments.alarm]["occurrence"]
    return send(arguments, "answer_alarm", {"alarm": arguments.alarm, "occurrence": occurrence})


VERB = Verb("answer", "Say that you know of an alarm.", "dosectl answer feed.no_response", _arguments, _run)
