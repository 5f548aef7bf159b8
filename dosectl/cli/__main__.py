"""`dosectl VERB ...`. Results to stdout, the rest to stderr. Exit 0 done, 1 refused or failed, 2 wrong usage, 3 no answer."""

import argparse
import sys
from importlib import import_module

from dosectl import __version__
from dosectl.cli.verb import NO_ANSWER, REFUSED, Verb

# One module a verb, imported only when used: start-up time is felt on small boards.
VERBS = (
    ("demo", "watch the daemon hold a simulated pool"),
    ("run", "run the daemon for a real installation"),
    ("check", "read a settings file and say what it means in mg/L and pH"),
    ("status", "show the water, the target, each feeder with its reason, interlocks, alarms"),
    ("guards", "show every interlock: what it says now and on what evidence, when it tripped last, which are off"),
    ("why", "show what was decided and why, now or at a time"),
    ("ask", "ask what to add, how to come down, may we swim, what to test"),
    ("test", "enter or withdraw a water test"),
    ("refill", "say what a container holds after a refill"),
    ("calibrated", "say that a probe was calibrated or checked in its standard"),
    ("replaced", "say that a pump's tube, a cell or a probe was replaced"),
    ("added", "say what you put into the pool by hand"),
    ("stop", "stop all feeding, at once"),
    ("close", "close the season: nothing is fed until a release at the plant"),
    ("release", "end a stop"),
    ("service", "begin or end a service lockout"),
    ("answer", "say that you know of an alarm"),
    ("alarms", "list alarms by state; how healthy the alarm list is"),
    ("shelve", "silence a standing alarm for some hours"),
    ("unshelve", "take an alarm off the shelf"),
    ("retire", "take an alarm out of service for some days"),
    ("restore", "put an alarm back in service"),
    ("useless", "say that an alarm asked for nothing"),
    ("ahead", "foretell free chlorine and pH of the coming days under the plan"),
    ("enough", "say whether feeder and pump hours are enough for high summer"),
    ("rehearse", "try settings on a simulated pool, several files side by side"),
    ("replay", "try settings on the days on record: what would they have done?"),
    ("leave", "say whether you may go for some days, and what to do first"),
    ("away", "say that you are away, and for how long"),
    ("back", "say that you are back"),
    ("account", "print what happened while you were away"),
    ("calendar", "write the reminders as a calendar file"),
    ("clear", "clear a latched trip after its cause is mended"),
    ("confirm", "read and confirm changed settings"),
    ("attest", "write a feeder's proof record from typed answers"),
    ("dispense", "run a feeder for some seconds, to prime it or measure its rate"),
    ("fault", "inject a fault into the running demo's pool"),
    ("listen", "print what arrives on the signals' topics"),
    ("export", "write the record out as CSV or JSON lines"),
    ("reference", "print the tables of settings, interlocks, alarms and hazards"),
    ("salvage", "copy what can be read of a damaged journal into a new one"),
)

SIMPLE = (
    "refill",
    "calibrated",
    "replaced",
    "back",
    "close",
    "added",
    "stop",
    "release",
    "dispense",
    "shelve",
    "unshelve",
    "retire",
    "restore",
    "useless",
)
"""Verbs that are one request each: all in `cli/simple.py`."""

CAUTION = (
    "dosectl adds to wired interlocks and never replaces them. Acid and hypochlorite must never meet: together they free "
    "chlorine gas. Product labels, local codes and licensed trades come first."
)


def _verb(name: str) -> Verb:
    if name in SIMPLE:
        from dosectl.cli import simple

        return simple.VERBS[name]
    verb = import_module(f"dosectl.cli.{name}").VERB
    assert isinstance(verb, Verb)
    return verb


def _parser() -> argparse.ArgumentParser:
    lines = "\n".join(f"  {name:<10} {text}" for name, text in VERBS)
    parser = argparse.ArgumentParser(
        prog="dosectl",
        usage="dosectl VERB ... (dosectl VERB --help for each)",
        description=f"example: dosectl demo\n\nverbs:\n{lines}",
        epilog=CAUTION,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        add_help=True,
    )
    parser.add_argument("--version", action="version", version=f"dosectl {__version__}")
    parser.add_argument("verb", nargs="?", help=argparse.SUPPRESS)
    parser.add_argument("rest", nargs=argparse.REMAINDER, help=argparse.SUPPRESS)
    return parser


def main(words: list[str] | None = None) -> int:
    """The command line. Returns the exit status."""
    words = sys.argv[1:] if words is None else words
    names = [name for name, _ in VERBS]
    if not words or words[0].startswith("-"):
        parser = _parser()
        if words:
            parser.parse_args(words)
        parser.print_help()
        return 0 if not words else 2
    if words[0] not in names:
        from difflib import get_close_matches

        near = get_close_matches(words[0], names, n=1)
        hint = f" Did you mean '{near[0]}'?" if near else ""
        print(f"dosectl: there is no verb '{words[0]}'.{hint} 'dosectl --help' lists them.", file=sys.stderr)
        return 2
    verb = _verb(words[0])
    parser = argparse.ArgumentParser(
        prog=f"dosectl {verb.name}",
        description=f"example: {verb.example}\n\n{verb.help}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    verb.arguments(parser)
    try:
        return verb.run(parser.parse_args(words[1:]))
    except KeyboardInterrupt:
        return REFUSED
    except BrokenPipeError:
        return REFUSED
    except TimeoutError as error:
        print(f"dosectl: {error}", file=sys.stderr)
        return NO_ANSWER


if __name__ == "__main__":
    sys.exit(main())
