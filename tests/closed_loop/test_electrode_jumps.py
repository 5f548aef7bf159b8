"""An electrode that jumps upwards within hours is doubted before the water is believed to have gained what nobody fed."""

import pytest

from tests.benchmarks.control.trial import Job, run
from tests.further import further

DAYS = 5.0


@pytest.mark.parametrize("seed", [3, further(5), further(10)])
def test_a_fouled_electrode_does_not_leave_the_pool_dead_while_nobody_is_there(seed: int) -> None:
    """Fouled to 40 % of its slope it reads some 80 mV too high. Believed, nothing was fed for a week and all chlorine went."""
    count = run(Job("away", seed, seed % 2 == 0, "dosectl", days=DAYS, lacks="sound probe"))
    assert count.dead_h < 12.0
    assert count.low_h < 0.25 * count.hours
    assert count.over_h == 0.0
