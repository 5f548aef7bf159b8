"""What hand tests and the ledger show of the loss, where a cover may lie on the pool."""

import pytest

from dosectl.core.interlocks import shown
from dosectl.model.signals import SignalKind, Status
from dosectl.model.water_tests import Quantity
from tests.builders import (
    CELL,
    CLOCK_S,
    a_ledger,
    a_reading,
    a_signal,
    a_site,
    a_test,
    an_evidence,
    unknown,
    with_reading,
    with_value,
)

DAY_S = 86400.0
COVERED = a_site(more_signals=(a_signal(SignalKind.COVER),))
TESTS = tuple(a_test(Quantity.FREE_CHLORINE, 3.0, CLOCK_S - days * DAY_S) for days in (8.0, 1.0))
FED = {CELL: tuple((CLOCK_S - 8.0 * DAY_S + 3600.0 + 6 * 3600.0 * n, 0.6 * 50.0) for n in range(32) if n < 31)}


def steady(site=COVERED):
    """3 mg/L kept by 2.4 mg/L a day, tested a week apart: a loss of at least 0.22 a day."""
    return an_evidence(site, tests=TESTS, ledger=a_ledger(site, FED))


def test_an_open_cover_or_none_leaves_the_loss_that_was_shown():
    for evidence in (steady(a_site()), with_value(steady(), "cover", False)):
        assert shown.least_loss_a_day(evidence) == pytest.approx(0.22, abs=0.03)


def test_a_closed_cover_counts_as_next_to_no_loss():
    assert shown.least_loss_a_day(with_value(steady(), "cover", True)) == 0.1


@pytest.mark.parametrize("reading", [unknown("cover"), a_reading("cover", None, Status.FAILURE)], ids=["silent", "failed"])
def test_a_cover_of_which_nothing_is_known_counts_as_closed(reading):
    """The unknown may not permit more than the worst that it may hide."""
    evidence = with_reading(steady(), reading)
    assert shown.least_loss_a_day(evidence) == 0.1
    assert not shown.shown_to_lose(evidence)
