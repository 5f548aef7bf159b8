"""For all tests: a run of everything must also have run every test that the hazard log names; and no test is timed."""

import pytest
from hypothesis import settings

from tests.further import add_option, leave_out
from tests.hazards.ran import configure

settings.register_profile("untimed", deadline=None)  # a machine that others load must fail no property


def pytest_addoption(parser: pytest.Parser) -> None:
    add_option(parser)


def pytest_configure(config: pytest.Config) -> None:
    settings.load_profile("untimed")
    configure(config)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    leave_out(config, items)
