"""`dosectl guards`: every interlock in the open: verdict now, its evidence, when it tripped last, what proves it, what is off.

Silence of a guard proves nothing, so each is listed whether it objects or not, and one that does not judge here is said first.
"""

import argparse
import json
import sys
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from dosectl.cli.seen import view
from dosectl.cli.verb import DONE, REFUSED, Verb, add_config
from dosectl.cli.where import NoInstallation, installation
from dosectl.core.interlocks.hazards import HAZARDS
from dosectl.core.interlocks.registry import KINDS, build, lacking, unfitted
from dosectl.core.requests.kinds.attest_proof import questions_for
from dosectl.core.site import Site
from dosectl.model.reasons import Code
from dosectl.settings.load import Loaded
from dosectl.store.faults import JournalError
from dosectl.store.read import Record
from dosectl.store.views import Trips
from dosectl.texts.figures import moment_text

View = Mapping[str, Any]
COUNTED_DAYS = 30
WITHOUT: Mapping[str, str] = {
    **dict.fromkeys(("feeder.runs", "feeder.still", "feeder.unseen"), "no feedback tells whether a feeder runs"),
    "water.path": "no signal tells the valve's position",
    "probe.sample": "no sample-flow switch is fitted",
    "probe.agreement": "no second probe is fitted",
    "high.chlorine": "no free-chlorine cell is fitted",
    "cell.power": "no current or voltage of a cell is told",
    "salt.level": "no cell with a salt signal is fitted",
    "cover.closed": "no cover signal is fitted",
    "cold.water": "no water temperature is told",
    "container.level": "no pump with a container is fitted",
    **dict.fromkeys(("node.online", "record.gap"), "plain relays carry the feeders, and no node that reports"),
}


LACKING: Mapping[str, str] = {
    "feeder.runs": "a feeder without feedback: whether it runs unasked is not seen",
    "change.unfed": "a container whose level nobody measures: a siphon shows only in the water",
    "cell.power": "a cell whose current and voltage are not told, or not what they must be (`expected_a`, `volts_max`)",
}
"""What a guard lacks where it can judge a part of the plant only."""


@dataclass(frozen=True, slots=True)
class Row:
    """One guard. verdict : permits, limits, denies, latched, off; times are local text, "" where there is none.

    proof : the step of the commissioning that shows it; proven : when that was last recorded for every feeder that it binds
    """

    guard: str
    verdict: str
    evidence: str
    tripped: str
    trips: int
    ended: str
    proof: str
    proven: str


def _signals_of(site: Site, loaded: Loaded) -> dict[str, list[str]]:
    """Signals that each guard holds or needs, by its code."""
    known = {str(signal.id) for signal in site.signals}
    found: dict[str, list[str]] = {}
    for guard in build(site, {Code(code): params for code, params in loaded.params["guards"].items()}):
        names = found.setdefault(str(guard.code), [])
        held = [getattr(guard, name) for name in getattr(type(guard), "__dataclass_fields__", {})]
        kinds = [str(signal.id) for need in guard.needs if (signal := site.first(need.kind)) is not None]
        names += [name for name in [*(str(value) for value in held if isinstance(value, str)), *kinds] if name in known]
    return {code: list(dict.fromkeys(names)) for code, names in found.items()}


def _fed(seen: View) -> str:
    return ", ".join(f"{f['id']} {f['fed_1h_mg_l']:g} mg/L in 1 h, {f['fed_24h_mg_l']:g} in 24 h" for f in seen["feeders"])


def _runs(seen: View) -> str:
    words = {True: "runs", False: "is off", None: "unknown"}
    return ", ".join(f"{f['id']} asked {'on' if f['on'] else 'off'} and {words[f['running']]}" for f in seen["feeders"])


def _flow(seen: View) -> str:
    return "flow proven" if seen["flow"]["proven"] else "flow not proven"


def _proofs(seen: View) -> str:
    proofs = [f"{p['feeder']} {'attested' if p['attested'] else 'walked'} {p['at_utc'][:10]}" for p in seen["proofs"]]
    return ", ".join(proofs) or "no record"


ASKED: Mapping[str, tuple[str, ...]] = {
    "1": (),
    "2": ("feedback_true",),
    "3": ("flow_stops_it", "pump_stops_it"),
    "5": ("stop_works",),
    "6": ("probes_tested",),
    "7": ("rate_measured",),
    "8": ("node_expires",),
    "10": ("never_both",),
    "11": ("no_siphon",),
}
"""Questions of the proof record by the step that they stand for; the record itself is bound to the settings, step 1. A step that
no question asks for is done by hand and leaves no record."""


def _bound_by(loaded: Loaded) -> dict[str, set[str]]:
    """Feeders that each guard binds, by its code."""
    found: dict[str, set[str]] = {}
    for guard in build(loaded.site, {Code(code): params for code, params in loaded.params["guards"].items()}):
        found.setdefault(str(guard.code), set()).update(str(feeder) for feeder in guard.feeders)
    return found


def _proven(site: Site, step: str, bound: set[str], seen: View) -> str:
    """When the step was last recorded for every feeder bound: the oldest of their records, as only that covers them all."""
    number = step.split()[0]
    if number not in ASKED:
        return "no record is kept of this step"
    asked = [f for f in site.feeders if str(f.id) in bound and set(ASKED[number]) <= {q.key for q in questions_for(f)}]
    if not asked:
        return "asked of none of its feeders"
    records = {proof["feeder"]: proof for proof in seen["proofs"]}
    missing = [str(feeder.id) for feeder in asked if str(feeder.id) not in records]
    if missing:
        return f"never for {', '.join(missing)}"
    oldest = min((records[str(feeder.id)] for feeder in asked), key=lambda proof: str(proof["at_utc"]))
    how = "simulated" if oldest["simulated"] else "attested" if oldest["attested"] else "walked"
    return f"{str(oldest['at_utc'])[:10] or 'undated'}, {how}"


EVIDENCE: tuple[tuple[str, Callable[[View], str]], ...] = (
    ("flow.", _flow),
    ("mass.", _fed),
    ("acid.budget", _fed),
    ("mixing.", _fed),
    ("dispense.", _fed),
    ("feeder.", _runs),
    ("lockout.", _runs),
    ("proof.", _proofs),
    ("config.", lambda seen: f"{len(seen['changes'])} change(s) not confirmed"),
    ("record.", lambda seen: "the record holds" if seen["journal"]["ok"] else str(seen["journal"]["error"])),
    ("bus.", lambda seen: "its own echo comes back" if seen["bus"]["alive"] else "no echo"),
)
"""Evidence that is no signal, by the beginning of a guard's code."""


def _evidence(code: str, signals: list[str], seen: View) -> str:
    shown = {signal["id"]: signal for signal in seen["signals"]}
    parts = [
        f"{name} {signal['value'] if signal['value'] is not None else signal['status'].replace('_', ' ')}"
        for name in signals
        if (signal := shown.get(name)) is not None
    ]
    return "; ".join([*(told(seen) for begin, told in EVIDENCE if code.startswith(begin)), *parts])


def kind_of(code: str) -> str:
    """The kind that a guard belongs to: the longest of the registry's codes that its own begins with."""
    kinds = [str(kind.code) for kind in KINDS if code == kind.code or code.startswith((f"{kind.code}.", f"{kind.code}_"))]
    return max(kinds, key=len) if kinds else {"cold.cell": "cold.water"}.get(code, code)


def rows(loaded: Loaded, seen: View, trips: Mapping[Code, Trips]) -> list[Row]:
    """All guards of the registry: those that are off first, then in causal order."""
    zone = ZoneInfo(loaded.site.pool.time_zone)
    signals = _signals_of(loaded.site, loaded)
    running = [str(code) for code in seen["guards"]]
    objections: dict[str, Any] = {}
    for row in seen["interlocks"]:
        objections.setdefault(row["guard"], row)
    proofs = {guard: hazard.proof for hazard in reversed(HAZARDS) for guard in hazard.guards}
    bound = _bound_by(loaded)
    figures = {Code(code): params for code, params in loaded.params["guards"].items()}
    lacks, absent = lacking(loaded.site, figures), unfitted(loaded.site, figures)
    off: list[Row] = []
    on: list[Row] = []
    for kind in KINDS:
        mine = [code for code in running if kind_of(code) == kind.code]
        left_out = [code for code in signals if kind_of(code) == kind.code and code not in running]
        for code in left_out:
            why = (
                "left out of a dry run: nothing is fed, so the water can't answer" if seen["dry_run"] else "it does not run here"
            )
            off.append(Row(code, "off", why, "", 0, "", proofs[str(kind.code)], "off"))
        if not mine and not left_out:
            why = WITHOUT.get(str(kind.code), "nothing here feeds it evidence")
            if str(kind.code) in lacks:
                why += ": an alarm, as this plant should have it"
            elif str(kind.code) in loaded.site.pool.without:
                why += ", and the settings say that the pool does without"
            elif str(kind.code) in absent:
                why += ", and the settings do not say that the pool does without (`without` in [pool]): an alarm"
            off.append(Row(str(kind.code), "off", why, "", 0, "", proofs[str(kind.code)], "off"))
        elif mine and str(kind.code) in lacks:
            name, why = f"{kind.code} (in part)", LACKING.get(str(kind.code), "a part of the plant that nothing here tells of")
            off.append(Row(name, "off", why, "", 0, "", proofs[str(kind.code)], "off"))
        for code in mine:
            found = objections.get(code)
            verdict = "permits" if found is None else _verdict(found)
            evidence = _evidence(code, signals.get(code, []), seen) if found is None else str(found["text"])
            trip = trips.get(Code(code))
            on.append(
                Row(
                    code, verdict, evidence,
                    "" if trip is None else f"{moment_text(trip.last, zone)} ({trip.why})",
                    0 if trip is None else trip.count,
                    "" if trip is None or trip.cleared is None else moment_text(trip.cleared, zone),
                    proofs[str(kind.code)],
                    _proven(loaded.site, proofs[str(kind.code)], bound.get(code, set()), seen),
                )
            )  # fmt: skip
    return [*off, *on]


def _verdict(found: Mapping[str, Any]) -> str:
    if not found["denies"]:
        return f"limits to {found['left_g']:g} g"
    return "latched" if found["latched"] else "denies"


def _arguments(parser: argparse.ArgumentParser) -> None:
    add_config(parser)
    parser.add_argument("--json", action="store_true", help="print the rows as JSON")
    parser.add_argument("--objecting", action="store_true", help="only those that deny, limit or are off")


def _run(arguments: argparse.Namespace) -> int:
    seen = view(arguments)
    if isinstance(seen, int):
        return seen
    try:
        loaded = installation(arguments)
        path = loaded.journal_path
        path = path.with_name(path.name + ".dry") if seen["dry_run"] else path
        at = datetime.fromisoformat(seen["at_utc"]).astimezone(UTC)
        with Record(path) as record:
            found = rows(loaded, seen, record.trips(at - timedelta(days=COUNTED_DAYS)))
    except (NoInstallation, JournalError) as error:
        print(error, file=sys.stderr)
        return REFUSED
    if arguments.objecting:
        found = [row for row in found if row.verdict != "permits"]
    if arguments.json:
        print(json.dumps([asdict(row) for row in found]))
        return DONE
    _draw(found, seen)
    return DONE


def _draw(found: list[Row], seen: View) -> None:
    """Name and verdict on one line, all else below it in sentences: eight columns leave none of them room on a usual screen."""
    from rich.console import Console
    from rich.padding import Padding
    from rich.text import Text

    off = sum(row.verdict == "off" for row in found)
    console = Console()
    console.print(f"{len(found)} interlocks, {off} OFF; feeders proven at the plant: {_proofs(seen)}", highlight=False)
    for row in found:
        objects = row.verdict in ("off", "latched", "denies")
        verdict = (row.verdict.upper(), "bold reverse") if objects else (row.verdict, "")
        console.print(Text.assemble((f"{row.guard:24s}", "bold"), " ", verdict))
        for line in filter(None, told(row)):
            console.print(Padding(Text(line), (0, 0, 0, 4)))


def told(row: Row) -> tuple[str, ...]:
    """What is known of one interlock, in lines: its evidence, its trips, its proof."""
    times = "once" if row.trips == 1 else f"{row.trips} times"
    tripped = f"tripped {times} in {COUNTED_DAYS} days, last {row.tripped}" if row.tripped else "never tripped"
    permits = f"; permits since {row.ended}" if row.ended and row.verdict not in ("denies", "latched") else ""
    return row.evidence, tripped + permits, f"proof: {row.proof}; last proven: {row.proven}"


VERB = Verb(
    "guards",
    "Show every interlock: verdict and evidence now, when it tripped last, when it was last proven and how, and which are off.",
    "dosectl guards --objecting",
    _arguments,
    _run,
)
