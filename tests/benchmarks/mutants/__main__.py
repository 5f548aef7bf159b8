"""Mutation testing of the interlock room with the domain's own mutants; 1 where one lives that is not known to be equivalent.

    python -m tests.benchmarks.mutants                    all of them, about 820; half an hour of one core
    python -m tests.benchmarks.mutants low_ph by_hand     those whose name holds one of these
    python -m tests.benchmarks.mutants --keep             also writes tests/benchmarks/results/mutants.txt
    python -m tests.benchmarks.mutants --keep --resume    those that the kept result does not have; --again: and those that lived

Each mutant is put in place of its module in a child process, nothing is written into the source; there first the tests that name
the module run until one fails, then all of tests/interlocks and what holds the record over a restart. The unchanged room goes
first and must live, else a death would prove nothing.
"""

import argparse
import contextlib
import importlib.abc
import importlib.util
import io
import os
import signal
import sys
import time
from collections import Counter
from collections.abc import Sequence
from importlib.machinery import ModuleSpec
from pathlib import Path
from types import ModuleType

import hypothesis
import pydantic  # noqa: F401 - imported once here, so that the children need not
import pytest

from tests.benchmarks.mutants.by_hand import of_the_rest
from tests.benchmarks.mutants.equivalent import EQUIVALENT
from tests.benchmarks.mutants.operators import KINDS, ROOM, Mutant, dotted, of_guards

ROOT = Path(__file__).parents[3]
RESULT = ROOT / "tests" / "benchmarks" / "results" / "mutants.txt"
LIMIT_S = 300
PROPERTIES = ("tests/interlocks/test_guard_properties.py", "tests/interlocks/test_registry.py")
ORDER = ("permit", "latch", "unknown", "by_hand", "fewer", "flip", "delay", "limit", "deny")
OUTCOMES = {"dies": "killed", "LIVES": "lives", "same": "equivalent"}
READS_SOURCE = (  # of the module's file, which a mutant has none of
    "tests/interlocks/test_registry.py::test_every_place_in_the_words_of_a_reason_is_a_fact_that_is_given",
    "tests/interlocks/test_registry.py::test_every_reason_that_a_guard_declares_belongs_to_exactly_one_kind",
)
WEEKS = "tests/interlocks/test_healthy_weeks.py"
LONG = ("tests/interlocks/test_states.py", "tests/interlocks/test_exhaustive.py")  # dear, so after all that is cheap
FIGURES = "tests/interlocks/test_figures.py"  # late: a table of figures shows nothing of what they do
JUDGED_OVER_WEEKS = (
    *(
        "mass_learned",
        "mass_day",
        "mass_hour",
        "chlorine_response",
        "acid_response",
        "wrong_way",
        "probe_liveness",
        "mixing_wait",
    ),
    *("flow_settle", "lockout", "usage", "fallback"),
)
BEYOND = ("tests/controller", "tests/requests", "tests/alarms/test_guard_codes.py", "tests/closed_loop/test_dispense.py")


class _InPlace(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Gives the changed source for one module name."""

    def __init__(self, mutant: Mutant) -> None:
        self._mutant = mutant

    def find_spec(self, name: str, path: Sequence[str] | None = None, target: ModuleType | None = None) -> ModuleSpec | None:
        del path, target
        return importlib.util.spec_from_loader(name, self) if name == self._mutant.module else None

    def exec_module(self, module: ModuleType) -> None:
        exec(compile(self._mutant.source, f"<{self._mutant.name}>", "exec"), module.__dict__)

    def get_source(self, name: str) -> str:
        del name
        return self._mutant.source


def _stages(mutant: Mutant) -> list[list[str]]:
    """Files of tests to run, the likeliest first."""
    stem = mutant.module.rsplit(".", 1)[-1]
    files = sorted(path for path in (ROOT / "tests" / "interlocks").glob("test_*.py"))
    naming = [str(path.relative_to(ROOT)) for path in files if stem in path.read_text(encoding="utf-8")]
    rest = [str(path.relative_to(ROOT)) for path in files]
    late = (WEEKS, FIGURES, *LONG)
    first = [file for file in naming if file not in PROPERTIES and file not in late]
    second = [file for file in (*PROPERTIES, *rest) if file not in first and file not in late]
    weeks = [WEEKS] if stem in JUDGED_OVER_WEEKS else []
    # A figure that its guard's own tests let pass is looked up in the table before everything else is tried.
    table = [FIGURES] if mutant.kind in ("limit", "delay") else []
    stages = [first, table, list(dict.fromkeys(second)), list(BEYOND) if mutant.kind == "by_hand" else [], weeks]
    stages += [list(LONG), *([] if table else [[FIGURES]])]
    if stem in ("begin", "step", "ledger", "guard", "inheriting"):
        stages = [["tests/controller", "tests/interlocks/test_arbiter.py"], first, second, [*BEYOND[1:], "tests/model"]]
        stages.append(["tests/closed_loop/test_step_sequences.py"])
    return [stage for stage in stages if stage]


def _child(mutant: Mutant, report: int) -> None:
    """Runs the tests against the mutant and writes which one killed it."""
    sys.meta_path.insert(0, _InPlace(mutant))
    # A machine that is slow is no proof against a mutant.
    hypothesis.settings.register_profile("patient", deadline=None, suppress_health_check=list(hypothesis.HealthCheck))
    hypothesis.settings.load_profile("patient")
    killer = ""

    class Note:
        def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
            nonlocal killer
            if report.failed and not killer:
                killer = report.nodeid

        def pytest_collectreport(self, report: pytest.CollectReport) -> None:
            nonlocal killer
            if report.failed and not killer:
                killer = f"collecting {report.nodeid}"

    options = ["-x", "-q", "-p", "no:cacheprovider", "-p", "no:xdist", "--hypothesis-seed=1", "--no-header", "--tb=no"]
    options += [f"--deselect={test}" for test in READS_SOURCE]
    for stage in _stages(mutant):
        with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
            code = pytest.main([*options, *stage], plugins=[Note()])
        if code != pytest.ExitCode.OK:
            os.write(report, (killer or f"exit {code}").encode())
            return


def killed_by(mutant: Mutant) -> str:
    """The test that notices the mutant, "" where none does."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reader)
        signal.alarm(LIMIT_S)  # a mutant may run for ever
        try:
            _child(mutant, writer)
        except BaseException as error:  # noqa: BLE001 - a child must never come back into the parent's loop
            os.write(writer, f"{type(error).__name__}".encode())
        os._exit(0)
    os.close(writer)
    with os.fdopen(reader, "rb") as pipe:
        said = pipe.read().decode()
    _, status = os.waitpid(child, 0)
    return said or ("ran for ever" if os.WIFSIGNALED(status) else "")


def _kept() -> dict[str, str]:
    """Lines of the kept result by the mutant's name."""
    lines = RESULT.read_text(encoding="utf-8").splitlines() if RESULT.exists() else []
    found: dict[str, str] = {}
    for line in lines:
        if line[:6] in ("dies  ", "LIVES "):
            name = line[6:].split(": tests/")[0].split(": collecting ")[0].removesuffix(": ran for ever")
            found[name] = line
    return found


def _chosen(parsed: argparse.Namespace) -> list[Mutant]:
    every = [*of_the_rest(), *of_guards()]
    every.sort(key=lambda mutant: ORDER.index(mutant.kind))
    stale = set(EQUIVALENT) - {mutant.name for mutant in every}
    if stale:
        raise SystemExit(f"no such mutants any more: {', '.join(sorted(stale))}")
    if parsed.words:
        every = [mutant for mutant in every if any(word in mutant.name for word in parsed.words)]
    part, _, parts = parsed.part.partition("/")
    return every[int(part) - 1 :: int(parts)]


def _line(mutant: Mutant, kept: dict[str, str], again: bool) -> str:
    if mutant.name in EQUIVALENT:
        return f"same  {mutant.name}: {EQUIVALENT[mutant.name]}"
    before = kept.get(mutant.name, "")
    if before and not (again and before.startswith("LIVES")):
        return before
    killer = killed_by(mutant)
    return f"dies  {mutant.name}: {killer}" if killer else f"LIVES {mutant.name}"


def main() -> int:
    """Runs them; 1 where a mutant lives that is not listed as equivalent."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.mutants", description=__doc__)
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.add_argument("words", nargs="*")
    parser.add_argument("--resume", action="store_true")
    parser.add_argument("--again", action="store_true")
    parser.add_argument("--keep", action="store_true")
    parser.add_argument("--part", default="1/1", metavar="K/N")
    parsed = parser.parse_args()
    began = time.monotonic()
    every = _chosen(parsed)
    os.chdir(ROOT)
    path = ROOM / "guards" / "low_ph.py"
    died = killed_by(Mutant("unchanged", "unchanged", dotted(path), path.read_text(encoding="utf-8")))
    assert not died, f"the unchanged {path.name} dies by {died}"
    kept = _kept() if parsed.resume or parsed.again else {}
    count: dict[str, Counter[str]] = {kind: Counter() for kind in KINDS}
    lines: list[str] = []
    for number, mutant in enumerate(every, 1):
        line = _line(mutant, kept, parsed.again)
        count[mutant.kind][OUTCOMES[line[:5].strip()]] += 1
        lines.append(line)
        if kept.get(mutant.name) != line:
            print(f"{number}/{len(every)} {line}", flush=True)
            if parsed.keep:  # a run that is cut short goes on with --resume
                _write(count, began, lines, kept, every[number:])
    if parsed.keep:
        _write(count, began, lines, kept, [])
    print(_table(count, time.monotonic() - began))
    return 1 if any(found["lives"] for found in count.values()) else 0


def _write(count: dict[str, Counter[str]], began: float, lines: list[str], kept: dict[str, str], waiting: list[Mutant]) -> None:
    shown = _table(count, time.monotonic() - began)
    if waiting:
        shown += f"\n{len(waiting)} not tried again yet; go on with --keep --resume"
    known = [kept[mutant.name] for mutant in waiting if mutant.name in kept]
    RESULT.write_text("\n".join([shown, "", *sorted([*lines, *known])]) + "\n", encoding="utf-8")


def _table(count: dict[str, Counter[str]], took_s: float) -> str:
    heads = ("killed", "lives", "equivalent")
    total = sum(count.values(), Counter())
    rows = [(kind, count[kind]) for kind in KINDS if count[kind]] + [("all", total)]
    lines = [f"{'operator':<10}" + "".join(f"{head:>12}" for head in heads)]
    lines += [f"{name:<10}" + "".join(f"{found[head]:>12}" for head in heads) for name, found in rows]
    return "\n".join(["python -m tests.benchmarks.mutants", *lines, f"({took_s:.0f} s)"])


if __name__ == "__main__":
    sys.exit(main())
