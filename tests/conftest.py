"""For all tests: a run of everything must also have run every test that the hazard log names."""

import pytest

from tests.hazards.ran import configure


def pytest_configure(config: pytest.Config) -> None:
    configure(config)
