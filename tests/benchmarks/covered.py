"""Three weeks under a closed cover that is signalled, as before an absence: nobody tests, nobody uncovers it.

    python -m tests.benchmarks.covered [days] [--keep]      (21 days; some twenty minutes of two cores)

The pools of our two examples in May, July and September, open for a day before. Probe: healthy; stuck 40 mV low with its noise;
and 60 mV low from then on, but answering. None may pass 10 mg/L, and a healthy pool that falls below 1 mg/L must not have been
held by the limit under the cover: `held` is the share of flow time in which less than 0.25 mg/L of its day was left. `partly` is
covered from 20 to 14 o'clock each day, with a controller that knows of no accepted day yet. --keep writes
tests/benchmarks/results/covered.txt.
"""

import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from multiprocessing import Pool
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

from dosectl.core.evidence import Standing
from dosectl.core.interlocks.arbiter import Objections
from dosectl.model.feeds import Substance
from dosectl.model.verdicts import Limit
from dosectl.rehearsal.own_pool import OwnPlant, own_loop
from dosectl.settings.load import load

RESULT = Path(__file__).parent / "results" / "covered.txt"
COVER = '[signals.cover]\ntopic = "plant/cover"\n\n'
LEAST_MG_L, MOST_MG_L = 1.0, 10.0
HEAD = "pool                    month  probe    lowest  highest  at end  fed mg/L a day   held  days accepted  called (day)"


@dataclass(frozen=True)
class Case:
    example: str
    month: int
    probe: str
    partly: bool = False


CASES = (
    *(
        Case(example, month, probe)
        for example in ("salt_and_acid", "hypochlorite_and_acid")
        for month in (5, 7, 9)
        for probe in ("healthy", "stuck", "low")
    ),
    Case("salt_and_acid", 7, "healthy", partly=True),
)


def _seen_by(plant: OwnPlant, probe: str) -> None:
    seen: Callable[[], dict[str, float | bool]] = plant.signals
    noise, stuck_mv = Random(4), float(seen()["id:orp"]) - 40.0

    def wrong() -> dict[str, float | bool]:
        signals = seen()
        signals["id:orp"] = stuck_mv + noise.gauss(0.0, 2.0) if probe == "stuck" else float(signals["id:orp"]) - 60.0
        return signals

    if probe != "healthy":
        plant.signals = wrong  # type: ignore[method-assign]


def _used_up(objections: Objections) -> bool:
    """Whether the limit under the cover leaves next to nothing of its day."""
    for verdict in (verdict for verdicts in objections.values() for verdict in verdicts):
        left = verdict.why.fact("left_mg_l") if isinstance(verdict, Limit) and verdict.guard == "cover.closed" else None
        if isinstance(left, int | float) and left < 0.25:
            return True
    return False


def run(job: tuple[Case, float]) -> tuple[str, bool]:
    """A line of the table, and whether it holds what is promised."""
    case, days = job
    text = Path(f"config/{case.example}.toml").read_text(encoding="utf-8")
    with TemporaryDirectory() as folder:
        file = Path(folder) / "pool.toml"
        file.write_text(text.replace("[signals.", COVER + "[signals.", 1), encoding="utf-8")
        loop, plant = own_loop(load(file), datetime(2026, case.month, 1, 6, tzinfo=UTC), 3)
    if case.partly:
        new: Standing = replace(loop.state.durable.standing, daily_use_mg_l=())
        loop.state = replace(loop.state, durable=replace(loop.state.durable, standing=new))
    for _ in loop.run(24.0):
        pass
    _seen_by(plant, case.probe)
    before_g, free, called, closed, flowing, held = plant.truth().fed_chlorine_g, [], {}, False, 0, 0
    for number, moment in enumerate(loop.run(24.0 * days)):
        hour = (8.0 + number / 60.0) % 24.0  # by the clock on the wall
        if (wanted := not case.partly or hour >= 20.0 or hour < 14.0) is not closed:
            closed = wanted
            plant.set_fault("cover_closed", closed)
        free.append(moment.truth.free_chlorine_mg_l)
        flowing += moment.truth.flow
        held += moment.truth.flow and _used_up(moment.decision.objections)
        for change in moment.decision.alarms:
            if change.change == "raised":
                called.setdefault(str(change.code), number / 1440.0)
    fed = (plant.truth().fed_chlorine_g - before_g) / plant.params.water.volume_m3 / days
    known = len(dict(loop.state.durable.standing.daily_use_mg_l).get(Substance.CHLORINE, ())) if case.partly else 0
    alarms = ", ".join(f"{code} {day:.1f}" for code, day in called.items()) or "nothing"
    good = max(free) <= MOST_MG_L and (case.probe != "healthy" or min(free) >= LEAST_MG_L or held <= 0.01 * flowing)
    name = case.example + (" partly" if case.partly else "")
    days_known = str(known) if case.partly else "-"
    return (
        f"{name[:22]:22s}  {case.month:5d}  {case.probe:7s}  {min(free):6.2f}  {max(free):7.2f}  {free[-1]:6.2f}  "
        f"{fed:14.2f}  {100.0 * held / flowing:4.0f} %  {days_known:>12s}  {alarms}{'' if good else '   NOT HELD'}",
        good,
    )


def main() -> int:
    words = [word for word in sys.argv[1:] if word != "--keep"]
    days = float(words[0]) if words else 21.0
    lines, held = [f"{days:g} days under a closed cover", HEAD], True
    print("\n".join(lines), flush=True)
    with Pool(2) as pool:
        for line, good in pool.imap(run, [(case, days) for case in CASES], chunksize=1):
            lines.append(line)
            held = held and good
            print(line, flush=True)
    if "--keep" in sys.argv:
        RESULT.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return 0 if held else 1


if __name__ == "__main__":
    raise SystemExit(main())
