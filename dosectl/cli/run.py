"""`dosectl run`: the daemon."""

import argparse
import logging
import sys
from pathlib import Path

from dosectl.cli.verb import Verb


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--config", metavar="FILE", required=True, help="settings file")
    parser.add_argument(
        "--dry-run", action="store_true", help="decide and record everything, command nothing; with a journal of its own"
    )
    parser.add_argument("-v", "--verbose", action="store_true", help="log more")
    parser.add_argument("-q", "--quiet", action="store_true", help="log warnings only")


def _run(arguments: argparse.Namespace) -> int:
    from dosectl.daemon.run import run_daemon
    from dosectl.daemon.wiring import Options

    level = logging.DEBUG if arguments.verbose else logging.WARNING if arguments.quiet else logging.INFO
    logging.basicConfig(stream=sys.stderr, level=level, format="%(asctime)s %(levelname)s %(name)s: %(message)s")
    logging.getLogger("apscheduler").setLevel(logging.WARNING)
    if arguments.dry_run:
        logging.getLogger("dosectl").warning("DRY RUN: everything is decided and recorded, nothing is commanded")
    return run_daemon(Path(arguments.config), Options(dry_run=arguments.dry_run), lambda text: print(text, file=sys.stderr))


VERB = Verb("run", "Run the daemon for a real installation.", "dosectl run --config /etc/dosectl/pool.toml", _arguments, _run)
