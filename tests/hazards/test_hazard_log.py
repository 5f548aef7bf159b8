"""The hazard log against what there is: no orphan in any direction, and no named test that does not exist or did not run."""

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest

from dosectl.core.alarms import ROWS
from dosectl.core.interlocks.hazards import HAZARDS, Hazard
from dosectl.core.interlocks.registry import KINDS
from tests.hazards.ran import missing, note, wanted

ROOT = Path(__file__).parents[2]


def test_every_guard_stands_against_a_hazard_and_every_named_guard_exists() -> None:
    named = {guard for hazard in HAZARDS for guard in hazard.guards}
    assert named == {str(kind.code) for kind in KINDS}


def test_every_alarm_tells_of_a_hazard_and_every_named_alarm_exists() -> None:
    named = {alarm for hazard in HAZARDS for alarm in hazard.alarms}
    assert named == {str(row.code) for row in ROWS}


@pytest.mark.parametrize("hazard", HAZARDS, ids=lambda hazard: hazard.code)
def test_a_hazard_has_guards_or_says_why_not_and_alarms_tests_and_words(hazard: Hazard) -> None:
    assert bool(hazard.guards) != bool(hazard.unguarded)
    assert hazard.alarms
    assert hazard.tests
    for text in (hazard.title, hazard.harms, hazard.causes, hazard.reaction, hazard.left, hazard.wired):
        assert text.strip()
    for listed in (hazard.guards, hazard.alarms, hazard.tests):
        assert len(set(listed)) == len(listed)


def test_names_are_unique() -> None:
    assert len({hazard.code for hazard in HAZARDS}) == len(HAZARDS)


def test_every_proof_step_is_a_step_of_the_commissioning_and_each_step_proves_something() -> None:
    text = (ROOT / "deploy" / "commissioning.md").read_text(encoding="utf-8")
    steps = set(re.findall(r"^\| (\d+ [^|]+?) \|", text, re.MULTILINE))
    assert len(steps) == 12
    named = {hazard.proof for hazard in HAZARDS}
    assert named <= steps
    # The wired trip is proven first; the same stimulus with the contact bridged belongs to the same hazard.
    assert steps - named == {"4 flow, dosectl"}


@pytest.mark.parametrize("test", sorted(wanted()))
def test_a_named_test_exists_and_is_not_skipped_by_a_mark(test: str) -> None:
    file, _, name = test.partition("::")
    tree = ast.parse((ROOT / file).read_text(encoding="utf-8"))
    found = [node for node in tree.body if isinstance(node, ast.FunctionDef) and node.name == name]
    assert len(found) == 1, f"{test} does not exist"
    assert not any("skip" in ast.unparse(mark) or "xfail" in ast.unparse(mark) for mark in found[0].decorator_list)


def _report(node: str, outcome: str) -> pytest.TestReport:
    return pytest.TestReport(node, ("", 0, ""), {}, outcome, None, "call")  # type: ignore[arg-type]


def test_a_named_test_that_was_skipped_failed_or_did_not_run_is_told() -> None:
    names = list(wanted())
    seen: dict[str, str] = {}
    for name in names[1:]:
        note(seen, _report(name, "passed"))
    assert [line.partition(": ")[0] for line in missing(seen)] == [names[0]]
    note(seen, _report(names[0] + "[a]", "passed"))
    assert missing(seen) == []
    note(seen, _report(names[0] + "[b]", "skipped"))
    assert "skipped" in missing(seen)[0]
    note(seen, _report(names[1], "failed"))
    assert len(missing(seen)) == 2


def test_a_run_of_everything_fails_where_named_tests_did_not_run(tmp_path: Path) -> None:
    (tmp_path / "test_one.py").write_text("def test_one(): pass\n", encoding="utf-8")
    plugin = "import pytest\nfrom tests.hazards.ran import configure\n\n\ndef pytest_configure(config):\n    configure(config)\n"
    (tmp_path / "conftest.py").write_text(plugin, encoding="utf-8")
    (tmp_path / "pytest.ini").write_text(f"[pytest]\ntestpaths = .\npythonpath = {ROOT}\n", encoding="utf-8")

    def run(*words: str) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", *words]
        environment = {"PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin"}
        return subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, timeout=120, check=False, env=environment)

    whole = run()
    assert whole.returncode == 1
    assert "hazards without proof" in whole.stdout
    assert "did not run" in whole.stdout
    assert run("test_one.py").returncode == 0
