"""Further pools of a kind that the tests hold with one, and a test of six weeks: `tests.benchmarks.further` plays them."""

import pytest
from _pytest.mark.structures import ParameterSet

OPTION, MARK = "--further", "further"


def further(*values: object) -> ParameterSet:
    """Parameters of a test that are played with `--further` only."""
    return pytest.param(*values, marks=pytest.mark.further)


def add_option(parser: pytest.Parser) -> None:
    parser.addoption(OPTION, action="store_true", help="plays the further pools of a kind too; with -m further those only")


def leave_out(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Takes the further pools out of the items, unless they are asked for."""
    if config.getoption(OPTION):
        return
    left = [item for item in items if item.get_closest_marker(MARK) is None]
    config.hook.pytest_deselected(items=[item for item in items if item.get_closest_marker(MARK) is not None])
    items[:] = left
