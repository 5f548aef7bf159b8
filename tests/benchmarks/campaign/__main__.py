"""The fault campaign: every fault x phase of the day x pool in the closed loop, beside the same world without the fault.

    python -m tests.benchmarks.campaign                          all single faults (about 40 min of one core)
    python -m tests.benchmarks.campaign flow_lost                one fault, all phases and pools
    python -m tests.benchmarks.campaign --pairs [--phase idle]   pairs of faults, the second half an hour after the first
    python -m tests.benchmarks.campaign --pairs --phase chlorine_on --apart-s 0    both at the same moment of a feed
    python -m tests.benchmarks.campaign --list                   the faults and what is asked of each

Prints a table; with --keep NAME also writes NAME.csv, NAME.txt and NAME.html to tests/benchmarks/results/. Exit 1 where a run
failed. Simulated time only: no run waits for a clock, so a slow machine changes no figure.
"""

import argparse
import csv
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, fields
from itertools import combinations
from pathlib import Path

from tests.benchmarks.campaign.cases import CASES, PHASES, POOLS, meant_for
from tests.benchmarks.campaign.code import code_now
from tests.benchmarks.campaign.report import html, text
from tests.benchmarks.campaign.runs import APART_S, Result, jobs, one

RESULTS = Path(__file__).parents[1] / "results"
PAIR_STANDS_H = 12.0
Job = tuple[str, str | None, str, str, float | None, bool, float]


Key = tuple[str, str, str, float | None]


def _key(job: Job) -> Key:
    return "+".join(filter(None, job[:2])), job[2], job[3], job[6] if job[1] else None


def _key_of(result: Result) -> Key:
    """Pairs from before the distance was noted were half an hour apart."""
    apart_s = APART_S if result.apart_s is None and "+" in result.fault else result.apart_s
    return result.fault, result.phase, result.pool, apart_s


def _one(job: Job) -> Result:
    fault, second, phase, pool, stands_h, recover, apart_s = job
    return one(fault, phase, pool, second, stands_h, recover, apart_s)


def _arguments(words: list[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.campaign", description=__doc__)
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.add_argument("fault", nargs="*", choices=[*CASES, []], help="only these; none: all")
    parser.add_argument("--pairs", action="store_true", help="all pairs of the faults named, or of all")
    parser.add_argument("--first", action="append", choices=list(CASES), help="pairs: only those that begin with one of these")
    parser.add_argument("--stands-h", type=float, default=PAIR_STANDS_H, help="pairs: how long both stand, from the first")
    parser.add_argument("--apart-s", type=float, default=APART_S, help="pairs: how long after the first the second begins")
    parser.add_argument("--both-orders", action="store_true", help="pairs in both orders")
    parser.add_argument("--phase", choices=PHASES, action="append", help="only these phases (pairs: idle)")
    parser.add_argument("--pool", choices=POOLS, action="append", help="only these pools (pairs take turns)")
    parser.add_argument("--part", default="1/1", metavar="K/N", help="the K-th of N parts of the runs")
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--keep", metavar="NAME", help="write NAME.csv, NAME.txt, NAME.html to tests/benchmarks/results")
    parser.add_argument("--resume", action="store_true", help="with --keep: only runs that NAME.csv does not have yet")
    parser.add_argument("--again", action="store_true", help="with --keep: only runs that NAME.csv lacks or that failed in it")
    parser.add_argument("--stale", action="store_true", help="with --keep: drop the rows of other code, then as --resume")
    parser.add_argument("--report", action="store_true", help="with --keep: run nothing, write the reports of what NAME.csv has")
    parser.add_argument("--list", action="store_true", help="list the faults and leave")
    parsed = parser.parse_args(words)
    if parsed.pairs and not 0.0 <= parsed.apart_s < 3600.0 * parsed.stands_h:
        parser.error(f"--apart-s {parsed.apart_s:g}: the second fault must begin while the first stands, {parsed.stands_h:g} h")
    return parsed


def _jobs(parsed: argparse.Namespace) -> list[Job]:
    faults = parsed.fault or list(CASES)
    if parsed.pairs:
        phases = parsed.phase or ["idle"]
        ordered = [(a, b) for a, b in combinations(faults, 2)]
        ordered += [(b, a) for a, b in ordered] if parsed.both_orders or parsed.first else []
        ordered = [pair for pair in ordered if not parsed.first or pair[0] in parsed.first]
        found: list[Job] = []
        for phase in phases:
            for number, (first, second) in enumerate(ordered):
                able = [pool for pool in POOLS if meant_for(first, pool) and meant_for(second, pool)]
                pools = parsed.pool or ([able[number % len(able)]] if able else [])
                found += [(first, second, phase, pool, parsed.stands_h, False, parsed.apart_s) for pool in pools if pool in able]
        found.sort(key=lambda job: job[3])
    else:
        found = [
            (fault, None, phase, pool, None, True, APART_S) for fault, phase, pool in jobs(faults, tuple(parsed.phase or PHASES))
        ]
        found = [job for job in found if not parsed.pool or job[3] in parsed.pool]
    part, _, parts = parsed.part.partition("/")
    return found[int(part) - 1 :: int(parts)]


def _results(todo: list[Job], workers: int) -> Iterator[Result]:
    if workers <= 1:
        yield from map(_one, todo)
        return
    with ProcessPoolExecutor(workers) as pool:
        yield from pool.map(_one, todo, chunksize=min(11, max(1, len(todo) // (4 * workers))))


def _write(name: str, results: list[Result], anew: bool = True) -> None:
    """Rows of the kept result, as they come: a run that is cut short keeps what it has."""
    RESULTS.mkdir(exist_ok=True)
    with (RESULTS / f"{name}.csv").open("w" if anew else "a", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, [field.name for field in fields(Result)], lineterminator="\n")
        if anew:
            writer.writeheader()
        writer.writerows({k: round(v, 3) if isinstance(v, float) else v for k, v in asdict(r).items()} for r in results)


def _kept(name: str) -> dict[Key, Result]:
    """What a run before left. Numbers come back as numbers, an empty one as None."""
    path = RESULTS / f"{name}.csv"
    if not path.exists():
        return {}
    found: dict[Key, Result] = {}
    with path.open(newline="", encoding="utf-8") as file:
        for line in csv.DictReader(file):
            values: dict[str, object] = {}
            for field in fields(Result):
                if field.name not in line:
                    continue  # a row from before it was noted
                shown = line[field.name]
                if field.type == "str" or field.type is str:
                    values[field.name] = shown
                elif field.type in ("bool", bool):
                    values[field.name] = shown == "True"
                else:
                    values[field.name] = float(shown) if shown else None
            result = Result(**values)  # type: ignore[arg-type]
            found[_key_of(result)] = result
    return found


def main(words: list[str] | None = None) -> int:
    """Runs what is asked for; 1 where a run failed."""
    parsed = _arguments(words)
    if parsed.list:
        for case in CASES.values():
            asked = case.why or f"called within {(case.called_s or 0) / 60:.0f} min of flow"
            print(f"{case.name:26s} {case.stands_h:4.0f} h  {case.text} [{asked}]")
        return 0
    began = time.monotonic()
    todo = _jobs(parsed)
    kept = _kept(parsed.keep) if parsed.keep and (parsed.resume or parsed.again or parsed.stale or parsed.report) else {}
    if parsed.again:
        kept = {key: result for key, result in kept.items() if not result.failures}
    if parsed.stale:
        kept = {key: result for key, result in kept.items() if result.code == code_now()}
    todo = [job for job in todo if _key(job) not in kept and not parsed.report]
    results = list(kept.values())
    if parsed.keep:
        _write(parsed.keep, results)
    for number, result in enumerate(_results(todo, parsed.workers), 1):
        results.append(result)
        if parsed.keep:
            _write(parsed.keep, results[-1:], anew=False)
        mark = f"FAILED {result.failures}" if result.failures else "ok"
        print(f"{number}/{len(todo)} {result.fault} {result.phase} {result.pool}: {mark}", file=sys.stderr, flush=True)
    took_s = time.monotonic() - began
    command = "python -m tests.benchmarks.campaign " + " ".join(words if words is not None else sys.argv[1:])
    have = {_key_of(result) for result in results}
    not_run = sum(_key(job) not in have for job in _jobs(parsed))
    shown = text(results, command, took_s, not_run)
    print(shown)
    if parsed.keep:
        (RESULTS / f"{parsed.keep}.txt").write_text(shown + "\n", encoding="utf-8")
        (RESULTS / f"{parsed.keep}.html").write_text(html(results, command, took_s, not_run), encoding="utf-8")
    return 1 if any(result.failures for result in results) else 0


if __name__ == "__main__":
    sys.exit(main())
