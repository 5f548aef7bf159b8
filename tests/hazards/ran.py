"""In a run of all tests: every test that the hazard log names must have run and passed. A skipped one proves nothing.

Loaded by `tests/conftest.py`; does nothing where a part was selected, for then the rest did not run on purpose.
"""

from collections.abc import Iterable, Mapping

import pytest

from dosectl.core.interlocks.hazards import HAZARDS

WORST = ("passed", "xpassed", "skipped", "failed")


def wanted() -> dict[str, list[str]]:
    """Node id without parameters, to the hazards that name it."""
    found: dict[str, list[str]] = {}
    for hazard in HAZARDS:
        for test in hazard.tests:
            found.setdefault(test, []).append(hazard.code)
    return found


def missing(seen: Mapping[str, str]) -> list[str]:
    """A sentence for each named test that did not run, or did not pass in all its forms."""
    found: list[str] = []
    for test, hazards in wanted().items():
        outcome = seen.get(test)
        if outcome != "passed":
            found.append(f"{test}: {outcome or 'did not run'} (hazards: {', '.join(hazards)})")
    return found


def note(seen: dict[str, str], report: pytest.TestReport) -> None:
    """Keeps the worst outcome of all forms and phases of a test."""
    if report.when != "call" and report.outcome == "passed":
        return
    outcome = "skipped" if hasattr(report, "wasxfail") else report.outcome  # an expected failure proves nothing either
    node = report.nodeid.partition("[")[0]
    before = seen.get(node, "passed")
    seen[node] = max(before, outcome, key=WORST.index)


def is_whole(config: pytest.Config) -> bool:
    """Whether all tests were asked for."""
    part: Iterable[object] = (
        config.option.keyword,
        config.option.markexpr,
        getattr(config.option, "lf", False),
        config.option.deselect,
        config.option.ignore,
        config.option.collectonly,
        config.args_source is not pytest.Config.ArgsSource.TESTPATHS,
    )
    return not any(part) and not hasattr(config, "workerinput")


class Watch:
    """The plugin of one run."""

    def __init__(self, config: pytest.Config) -> None:
        self._seen: dict[str, str] = {}
        self._config = config
        self._missing: list[str] = []

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        note(self._seen, report)

    @pytest.hookimpl(trylast=True)
    def pytest_sessionfinish(self, session: pytest.Session) -> None:
        self._missing = missing(self._seen)
        if self._missing and session.exitstatus == pytest.ExitCode.OK:
            session.exitstatus = pytest.ExitCode.TESTS_FAILED

    def pytest_terminal_summary(self, terminalreporter: pytest.TerminalReporter) -> None:
        if self._missing:
            terminalreporter.section("hazards without proof in this run", red=True)
            for line in self._missing:
                terminalreporter.write_line(line)


def configure(config: pytest.Config) -> None:
    """Watches a run of everything."""
    if is_whole(config):
        config.pluginmanager.register(Watch(config), "hazards-ran")
