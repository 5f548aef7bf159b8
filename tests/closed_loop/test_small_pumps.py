"""A pump that is no larger than it may be without a cap of its own holds its pool through a heat wave.

The pools are those of the comparison (`tests/benchmarks/control/pools.py`), with its fortnight before. With feeds of 0.4 mg/L or
20 minutes and a wait of 20 minutes from the end of each, both were dead within three days, and stayed so.
"""

import pytest

from tests.benchmarks.control.trial import Job, run
from tests.further import further


@pytest.mark.parametrize("seed", [further(8), 18])
def test_a_pump_of_the_size_that_is_accepted_holds_a_hot_week(seed: int) -> None:
    count = run(Job("heat", seed, True, "dosectl", days=7.0))
    assert count.dead_h == 0.0
    assert count.over_h == 0.0
    assert (count.low_h + count.high_h) / count.hours < 0.15
    assert count.latched == 0
    assert count.dry_s == 0.0
