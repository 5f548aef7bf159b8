"""`dosectl test`: enter a water test done by hand, or withdraw one that was a slip. A slip is withdrawn, never edited."""

import argparse
import sys

from dosectl.cli.asking import add_common, ask_verb, kind_of, send
from dosectl.cli.verb import USAGE, Verb

_ENTER, _WITHDRAW = kind_of("water_test"), kind_of("withdraw_test")


def _arguments(parser: argparse.ArgumentParser) -> None:
    by_name = {argument.name: argument for argument in _ENTER.arguments}
    choices = {name: ", ".join(by_name[name].choices) for name in ("quantity", "method")}
    parser.add_argument("quantity", nargs="?", metavar="QUANTITY", help=f"{by_name['quantity'].help} ({choices['quantity']})")
    parser.add_argument("value", nargs="?", type=float, metavar="VALUE", help=by_name["value"].help)
    parser.add_argument(
        "method", nargs="?", default="drops", metavar="METHOD", help=f"{by_name['method'].help} ({choices['method']})"
    )
    parser.add_argument("--taken-utc", metavar="TIME", help=by_name["taken_utc"].help)
    parser.add_argument("--as-said", action="store_true", default=None, help=by_name["as_said"].help)
    parser.add_argument("--withdraw", metavar="ID", help=_WITHDRAW.arguments[0].help)
    add_common(parser)


def _run(arguments: argparse.Namespace) -> int:
    if arguments.withdraw:
        return send(arguments, "withdraw_test", {"test": arguments.withdraw})
    if arguments.quantity is None or arguments.value is None:
        print("dosectl test: a quantity and a value are needed, such as: dosectl test free_chlorine 2.8 drops", file=sys.stderr)
        return USAGE
    return ask_verb("water_test", arguments)


VERB = Verb("test", _ENTER.help, "dosectl test free_chlorine 2.8 drops", _arguments, _run)
