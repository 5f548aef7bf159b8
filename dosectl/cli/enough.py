"""`dosectl enough`: do feeder and pump hours carry the pool through high summer?"""

import argparse
import json
import sys
from dataclasses import asdict

from dosectl.cli.account import kept
from dosectl.cli.ahead import allowed_by
from dosectl.cli.verb import DONE, REFUSED, Verb, add_config
from dosectl.cli.where import NoInstallation, installation
from dosectl.core.advice import forecast
from dosectl.store.faults import JournalError


def _arguments(parser: argparse.ArgumentParser) -> None:
    add_config(parser)
    parser.add_argument("--temp-c", type=float, default=forecast.HOT_C, metavar="C", help="water of the hot day (default 29)")
    parser.add_argument("--flow-h", type=float, metavar="H", help="hours of flow a day (else as learnt)")
    parser.add_argument("--json", action="store_true", help="print the figures as JSON")


def _run(arguments: argparse.Namespace) -> int:
    try:
        loaded = installation(arguments)
        durable, utc = kept(loaded)
        params = loaded.params
        found = forecast.enough(
            loaded.site,
            params["estimate"],
            params["control"],
            durable.estimate,
            durable.habit,
            utc.year,
            allowed_by(loaded, durable.standing),
            arguments.temp_c,
            arguments.flow_h,
        )
    except (NoInstallation, JournalError, ValueError) as error:
        print(error, file=sys.stderr)
        return REFUSED
    if arguments.json:
        print(json.dumps({**asdict(found), "answer": found.verdict}))
        return DONE
    print(
        f"A clear day of high summer, water at {found.temp_c:g} °C, free chlorine at its target of {found.target_mg_l:.1f} mg/L:"
    )
    print(f"  it loses  {found.loss_mg_l:.1f} mg/L ({found.loss_low_mg_l:.1f} to {found.loss_high_mg_l:.1f}, 90 % sure)")
    print(
        f"  the feeders give {found.gives_mg_l:.1f} mg/L ({found.gives_low_mg_l:.1f} to {found.gives_high_mg_l:.1f}) "
        f"in {found.flow_h:.0f} h of flow; at most {found.limit_mg_l:g} mg/L are let in a day"
    )
    print(f"  while the pump rests {found.night_mg_l:.1f} mg/L go; the loss needs {found.hours_needed:.0f} h of flow")
    print(f"answer: {found.verdict}")
    if found.verdict != "enough":
        print("what helps: more hours of flow, a cover, guests who shower first, less stabiliser if it is high, a larger feeder")
    return DONE


VERB = Verb("enough", "Are feeder and pump hours enough for high summer?", "dosectl enough", _arguments, _run)
