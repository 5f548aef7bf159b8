"""What hand tests and the ledger show of the loss, where a cover may lie on the pool."""

from dataclasses import replace

import pytest

from dosectl.core.interlocks import fallback, shown
from dosectl.model.feeds import Substance
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


def test_a_cover_that_settings_tell_of_and_no_signal_may_be_closed():
    open_pool = a_site()
    covered = replace(open_pool, pool=replace(open_pool.pool, covered=True))
    assert shown.least_loss_a_day(steady(open_pool)) > 0.1
    assert shown.least_loss_a_day(steady(covered)) == 0.1


@pytest.mark.parametrize("reading", [unknown("cover"), a_reading("cover", None, Status.FAILURE)], ids=["silent", "failed"])
def test_a_cover_of_which_nothing_is_known_counts_as_closed(reading):
    """The unknown may not permit more than the worst that it may hide."""
    evidence = with_reading(steady(), reading)
    assert shown.least_loss_a_day(evidence) == 0.1
    assert not shown.shown_to_lose(evidence)


def test_the_loss_that_is_shown_has_a_bound_however_much_vanished():
    """20 mg/L a day fed and none of it found: believed at three a day, of which half is kept."""
    tests = tuple(a_test(Quantity.FREE_CHLORINE, 0.0, CLOCK_S - days * DAY_S) for days in (8.0, 1.0))
    fed = {CELL: tuple((CLOCK_S - 8.0 * DAY_S + 3600.0 + 6 * 3600.0 * n, 50.0 * 50.0) for n in range(28))}
    site = a_site()
    assert shown.least_loss_a_day(an_evidence(site, tests=tests, ledger=a_ledger(site, fed))) == pytest.approx(1.5, abs=1e-3)


@pytest.mark.parametrize(("apart_days", "shows"), [(1.9, False), (2.1, True), (14.9, True), (15.1, False)])
def test_two_tests_must_lie_two_to_fifteen_days_apart(apart_days, shows):
    site = a_site()
    first_s = CLOCK_S - 1.0 * DAY_S - apart_days * DAY_S
    tests = (a_test(Quantity.FREE_CHLORINE, 5.0, first_s), a_test(Quantity.FREE_CHLORINE, 0.5, CLOCK_S - 1.0 * DAY_S))
    fed = {CELL: tuple((first_s + 60.0 + 6 * 3600.0 * n, 2.0 * 50.0) for n in range(round(4 * apart_days)))}
    evidence = an_evidence(site, tests=tests, ledger=a_ledger(site, fed))
    assert (shown.least_loss_a_day(evidence) > 0.1) is shows


def test_a_pool_that_used_next_to_nothing_of_late_is_not_left_with_a_share_of_that():
    site = a_site()
    little = an_evidence(site)
    little = replace(little, standing=replace(little.standing, daily_use_mg_l=((Substance.CHLORINE, (0.1,) * 14),)), tests=())
    assert fallback.rate_mg_l_day(little) == pytest.approx(0.6 * 1.0)
