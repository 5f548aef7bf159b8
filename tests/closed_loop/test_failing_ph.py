"""A pH probe that drifts far up and then fails, as a glass that ages does, with nobody there to test."""

from dataclasses import replace

import pytest

from dosectl.model.instant import Instant
from dosectl.model.signals import Sample
from dosectl.rehearsal.loop import ClosedLoop
from tests.closed_loop.taught_pool import Pool


def test_a_ph_probe_that_reads_nine_for_two_days_and_then_fails_leaves_the_pool_some_chlorine(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """0.00 mg/L from the third day on, for as long as nobody tested; one that fails at once leaves 0.4 to 1.9."""
    pool = Pool.after_a_fortnight(4)
    sent, reads = ClosedLoop._samples, [True]

    def samples(self: ClosedLoop, now: Instant) -> tuple[Sample, ...]:
        found = [s if str(s.signal) != "ph" else replace(s, raw=9.0 + 0.3 * (float(s.raw) - 7.5)) for s in sent(self, now)]
        return tuple(s for s in found if reads[0] or str(s.signal) != "ph")

    monkeypatch.setattr(ClosedLoop, "_samples", samples)
    pool.days(2.0)
    reads[0] = False
    pool.days(1.0)
    assert pool.hours_below(0.2, 3) < 24.0
