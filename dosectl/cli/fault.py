"""`dosectl fault`: injects a fault into a simulated pool, to see what the daemon does about it."""

import argparse
import sys

from dosectl.bus.ask import Asker, NoBroker, NotAllowed
from dosectl.cli.verb import DONE, NO_ANSWER, REFUSED, Verb, add_config
from dosectl.cli.where import NoInstallation, installation


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("name", nargs="?", metavar="FAULT", help="which fault; left out: lists them")
    parser.add_argument("state", nargs="?", choices=("on", "off"), default="on", help="begin (the usual) or end it")
    add_config(parser)


def _run(arguments: argparse.Namespace) -> int:
    from dosectl.pool_model.faults.registry import FAULTS

    if arguments.name is None:
        for name, fault in FAULTS.items():
            print(f"{name:<28}{fault.text}")
        return DONE
    if arguments.name not in FAULTS:
        print(f"there is no fault '{arguments.name}'; 'dosectl fault' lists them", file=sys.stderr)
        return REFUSED
    try:
        loaded = installation(arguments)
        if not loaded.site.simulated:
            print("this is no simulated pool; faults are injected into the demo's only", file=sys.stderr)
            return REFUSED
        with Asker(loaded.broker) as asker:
            asker.publish(asker.topics.sim_fault, {"fault": arguments.name, "on": arguments.state == "on"})
    except NoInstallation as error:
        print(error, file=sys.stderr)
        return REFUSED
    except (NoBroker, NotAllowed) as error:
        print(f"the broker did not take it: {error}", file=sys.stderr)
        return NO_ANSWER
    print(f"{arguments.name} {arguments.state}: watch the demo, or 'dosectl status'")
    return DONE


VERB = Verb("fault", "Inject a fault into the running demo's pool.", "dosectl fault flow_lost on", _arguments, _run)
