"""`dosectl listen`: prints what arrives on the signals' topics, and what each message would become."""

import argparse
import sys
from datetime import UTC, datetime

from dosectl.bus.ask import Asker, NoBroker
from dosectl.bus.decode import decode
from dosectl.cli.verb import DONE, NO_ANSWER, REFUSED, Verb, add_config
from dosectl.cli.where import NoInstallation, installation
from dosectl.model.instant import Instant


def _arguments(parser: argparse.ArgumentParser) -> None:
    add_config(parser)
    parser.add_argument("--for-s", type=float, default=None, metavar="S", help="end after so long; left out: on Ctrl-C")


def _run(arguments: argparse.Namespace) -> int:
    try:
        loaded = installation(arguments)
        bindings = loaded.bindings
        topics = tuple(dict.fromkeys(binding.topic for binding in bindings))
        with Asker(loaded.broker) as asker:
            for heard in asker.listen(topics, arguments.for_s):
                now = Instant(0.0, datetime.now(UTC), "listen")
                mine = tuple(binding for binding in bindings if binding.topic == heard.topic)
                for found in decode(mine, heard.payload, now, heard.retained):
                    print(
                        f"{heard.topic}  {heard.payload[:80]!r}{' RETAINED' if heard.retained else ''}  ->  {_words(found)}",
                        flush=True,
                    )
    except NoInstallation as error:
        print(error, file=sys.stderr)
        return REFUSED
    except NoBroker as error:
        print(f"the broker can't be reached: {error}", file=sys.stderr)
        return NO_ANSWER
    return DONE


def _words(found: object) -> str:
    signal, raw, why = getattr(found, "signal", "?"), getattr(found, "raw", None), getattr(found, "why", None)
    return f"{signal} = {raw}" if why is None else f"{signal}: dropped, {why}"


VERB = Verb("listen", "Print what arrives on the signals' topics.", "dosectl listen --for-s 30", _arguments, _run)
