"""`dosectl attest`: asks the proof questions of a feeder and writes the record from typed answers, marked as attested."""

import argparse
import sys

from dosectl.cli.asking import add_common, send
from dosectl.cli.verb import REFUSED, Verb
from dosectl.cli.where import NoInstallation, installation
from dosectl.core.requests.kinds.attest_proof import YES, questions_for
from dosectl.model.reasons import Fact

_INTRO = """Proof of {feeder}. Do each test at the plant before answering; nobody else checks. Goggles and gloves for acid and
hypochlorite, water in place of chemical wherever a feeder runs, nobody in the pool. If you smell chlorine, leave and call for
help. The record says that it was attested, not watched. Answer each with the word yes; anything else stops here."""


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("feeder", metavar="FEEDER", help="which feeder was proven")
    add_common(parser)


def _run(arguments: argparse.Namespace) -> int:
    try:
        site = installation(arguments).site
        feeder = site.feeder(arguments.feeder)
    except NoInstallation as error:
        print(error, file=sys.stderr)
        return REFUSED
    except KeyError:
        print(f"there is no feeder '{arguments.feeder}'. Feeders: {', '.join(f.id for f in site.feeders)}", file=sys.stderr)
        return REFUSED
    print(_INTRO.format(feeder=feeder.id))
    facts: dict[str, Fact] = {"feeder": feeder.id}
    for number, question in enumerate(questions_for(feeder), 1):
        try:
            said = input(f"{number}. {question.words} ").strip().lower()
        except EOFError:
            said = ""
        if said != YES:
            print(
                f"\nnot attested: question {number} was not answered with yes. The feeder feeds nothing until it is.",
                file=sys.stderr,
            )
            return REFUSED
        facts[question.key] = YES
    return send(arguments, "attest_proof", facts)


VERB = Verb("attest", "Write a feeder's proof record from typed answers.", "dosectl attest acid", _arguments, _run)
