"""The rate at which chlorine goes on while a reading is lost: what usual use, the ledger and hand tests allow."""

from dataclasses import replace

import pytest

from dosectl.core.interlocks import shown
from dosectl.core.interlocks.fallback import is_fallback
from dosectl.core.interlocks.guard import FRESH
from dosectl.core.interlocks.guards.probe_validity import KIND_ORP, KIND_PH
from dosectl.model.feeds import Substance
from dosectl.model.signals import Status
from dosectl.model.water_tests import Quantity
from tests.builders import (
    CELL,
    CLOCK_S,
    a_ledger,
    a_reading,
    a_site,
    a_test,
    an_evidence,
    later,
    unknown,
    with_reading,
)

DAY_S = 86400.0
SITE = a_site()
HEALTHY = an_evidence(SITE)
GUARDS = [guard for kind in (KIND_ORP, KIND_PH) for guard in kind.build(SITE, kind.params())]


def the(code, feeder=CELL):
    return next(g for g in GUARDS if feeder in g.feeders and g.code == code)


@pytest.mark.parametrize("status", [Status.OUT_OF_SPEC, Status.CHECK, Status.FAILURE, Status.UNKNOWN])
@pytest.mark.parametrize("signal", ["orp", "ph"])
def test_a_lost_reading_holds_chlorine_at_sixty_percent_of_usual_use(signal, status):
    lost = with_reading(HEALTHY, a_reading(signal, 7.0, status))
    verdict, _ = the(f"probe.{signal}").judge(lost, FRESH)
    assert is_fallback(verdict)
    assert verdict.mass_g == pytest.approx(0.6 * 2.4 * 50.0)


def test_the_fall_back_rate_counts_what_the_last_day_got_and_halves_after_a_week():
    lost = with_reading(HEALTHY, unknown("orp"))
    lost = replace(lost, ledger=a_ledger(SITE, {CELL: ((CLOCK_S - 3600.0, 40.0),)}))
    assert the("probe.orp").judge(lost, FRESH)[0].mass_g == pytest.approx(0.6 * 2.4 * 50.0 - 40.0)
    week = replace(lost, ledger=a_ledger(SITE), standing=replace(lost.standing, fallback_since_s=CLOCK_S - 7.1 * DAY_S))
    assert the("probe.orp").judge(week, FRESH)[0].mass_g == pytest.approx(0.3 * 2.4 * 50.0)


def test_a_fresh_hand_test_lets_a_blind_pool_have_all_of_its_usual_use():
    lost = with_reading(HEALTHY, unknown("orp"))
    tested = replace(lost, tests=(a_test(Quantity.FREE_CHLORINE, 1.5),))
    assert the("probe.orp").judge(tested, FRESH)[0].mass_g == pytest.approx(2.4 * 50.0)
    long_ago = replace(tested.standing, fallback_since_s=CLOCK_S - 30.0 * DAY_S)
    assert the("probe.orp").judge(replace(tested, standing=long_ago), FRESH)[0].mass_g == pytest.approx(2.4 * 50.0)


@pytest.mark.parametrize(("value", "share"), [(7.0, 0.6), (9.0, 0.3), (30.0, 0.3)])
def test_a_hand_test_that_shows_much_does_not(value, share):
    lost = replace(with_reading(HEALTHY, unknown("orp")), tests=(a_test(Quantity.FREE_CHLORINE, value),))
    assert the("probe.orp").judge(lost, FRESH)[0].mass_g == pytest.approx(share * 2.4 * 50.0)


def test_what_was_fed_since_the_test_counts_as_if_next_to_nothing_were_lost():
    """Three days at 2.4 mg/L a day on top of 3.0: at a loss of a tenth a day 8.4 mg/L may stand there."""
    taken_s = CLOCK_S - 3.0 * DAY_S
    fed = {CELL: tuple((taken_s + 60.0 + hours * 3600.0, 2.4 * 50.0) for hours in (0, 20, 46))}
    test = a_test(Quantity.FREE_CHLORINE, 3.0, taken_s)
    lost = replace(with_reading(HEALTHY, unknown("orp")), tests=(test,), ledger=a_ledger(SITE, fed))
    assert shown.most_there_mg_l(lost, test) == pytest.approx(3.62 * 0.741 + 7.2 * 0.864, abs=0.02)
    assert the("probe.orp").judge(lost, FRESH)[0].mass_g == pytest.approx(0.6 * 2.4 * 50.0)


def test_an_old_test_or_one_from_the_future_says_nothing():
    lost = with_reading(HEALTHY, unknown("orp"))
    lost = replace(lost, standing=replace(lost.standing, fallback_since_s=CLOCK_S - 30.0 * DAY_S))
    for days, share in ((7.1, 0.3), (6.9, 1.0)):
        tested = replace(lost, tests=(a_test(Quantity.FREE_CHLORINE, 2.0, CLOCK_S - days * DAY_S),))
        assert the("probe.orp").judge(tested, FRESH)[0].mass_g == pytest.approx(share * 2.4 * 50.0)
    future = replace(lost, tests=(a_test(Quantity.FREE_CHLORINE, 1.0, CLOCK_S + 60.0),))
    assert the("probe.orp").judge(future, FRESH)[0].mass_g == pytest.approx(0.3 * 2.4 * 50.0)


def blind_and_tested(tested, fed_mg_l_day, **changes):
    """Tests of free chlorine at (days ago, mg/L), and this much fed a day in four feeds since the first of them."""
    first = max(days for days, _ in tested)
    times = [CLOCK_S - first * DAY_S + 3600.0 + 6 * 3600.0 * n for n in range(round(4 * first))]
    fed = {CELL: tuple((at_s, 0.25 * fed_mg_l_day * 50.0) for at_s in times if at_s < CLOCK_S)}
    tests = tuple(a_test(Quantity.FREE_CHLORINE, value, CLOCK_S - days * DAY_S) for days, value in tested)
    return replace(with_reading(HEALTHY, unknown("orp")), tests=tests, ledger=a_ledger(SITE, fed), **changes)


def test_two_tests_and_what_was_fed_between_show_the_least_loss():
    """3 mg/L kept by 2.4 mg/L a day is a loss of 0.8 a day; with all errors on the side of a small one 0.44, of that half."""
    steady = blind_and_tested([(8.0, 3.0), (1.0, 3.0)], 2.4)
    assert shown.least_loss_a_day(steady) == pytest.approx(0.5 * 0.44, abs=0.03)
    for little in (
        blind_and_tested([(1.0, 3.0)], 2.4),
        blind_and_tested([(2.5, 3.0), (1.0, 3.0)], 2.4),
        blind_and_tested([(17.0, 3.0), (1.0, 3.0)], 2.4),
        blind_and_tested([(8.0, 3.0), (1.0, 9.0)], 1.0),
    ):
        assert shown.least_loss_a_day(little) == 0.1


def test_a_ledger_that_forgot_a_closed_cover_and_feeds_that_never_arrived_show_none():
    steady = blind_and_tested([(8.0, 3.0), (1.0, 3.0)], 2.4)
    forgot = replace(steady.ledger, feeders=tuple(replace(b, known_from_s=CLOCK_S - 5.0 * DAY_S) for b in steady.ledger.feeders))
    assert shown.least_loss_a_day(replace(steady, ledger=forgot)) == 0.1
    assert shown.least_loss_a_day(blind_and_tested([(8.0, 3.0), (1.0, 3.0)], 0.0)) == 0.1


def test_what_was_put_in_by_hand_since_leaves_nothing_shown():
    """Chlorine on top of a low test is not booked, and a neutraliser between two tests looks like a loss."""
    steady = blind_and_tested([(8.0, 3.0), (1.0, 3.0)], 2.4)
    assert shown.most_by_tests(steady) is not None
    between = replace(steady, standing=replace(steady.standing, added_s=CLOCK_S - 4.0 * DAY_S))
    assert shown.least_loss_a_day(between) == 0.1
    since = replace(steady, standing=replace(steady.standing, added_s=CLOCK_S - 0.5 * DAY_S))
    assert shown.most_by_tests(since) is None
    assert not shown.shown_to_lose(since)
    before = replace(steady, standing=replace(steady.standing, added_s=CLOCK_S - 9.0 * DAY_S))
    assert shown.shown_to_lose(before)


def test_a_pool_that_is_shown_to_lose_much_has_all_of_its_usual_use_for_the_week():
    hungry = blind_and_tested([(13.0, 2.5), (6.0, 2.0)], 2.4, standing=replace(HEALTHY.standing, fallback_since_s=CLOCK_S - 9e6))
    verdict, _ = the("probe.orp").judge(hungry, FRESH)
    assert dict(verdict.why.facts)["rate_mg_l_day"] == pytest.approx(1.3 * 2.4)
    once = replace(hungry, tests=hungry.tests[1:])
    assert dict(the("probe.orp").judge(once, FRESH)[0].why.facts)["rate_mg_l_day"] == pytest.approx(0.3 * 2.4)


@pytest.mark.parametrize(
    ("usual", "loss"),
    [
        (1.0, (0.1,)),
        (2.4, (0.1,)),
        (2.4, (0.2,)),
        (4.0, (0.2,)),
        (4.0, (0.8,)),
        (2.4, (0.8, 0.4)),
        (4.0, (0.8, 0.4)),
        (2.4, (0.8, 0.8, 0.8, 0.27)),
    ],
)
def test_weekly_tests_never_let_a_pool_that_loses_little_pass_ten(usual, loss):
    """Plants that lose little, or whose loss halves each second week, fed all that is let in, tested truly each week."""
    free, clock_s, fed, tests = 3.0, CLOCK_S, [], ()
    start = replace(with_reading(HEALTHY, unknown("orp")), standing=replace(
        HEALTHY.standing, fallback_since_s=CLOCK_S, daily_use_mg_l=((Substance.CHLORINE, (usual,) * 14),)))  # fmt: skip
    worst = 0.0
    for hour in range(24 * 70):
        if hour % 168 == 0:
            tests = (*tests, a_test(Quantity.FREE_CHLORINE, free, clock_s))
        evidence = replace(later(start, 3600.0 * hour), tests=tests, ledger=a_ledger(SITE, {CELL: tuple(fed)}))
        room_mg_l = min(0.5, the("probe.orp").judge(with_reading(evidence, unknown("orp")), FRESH)[0].mass_g / 50.0)
        clock_s += 3600.0
        if room_mg_l > 0.01:
            fed.append((clock_s, room_mg_l * 50.0))
        free = (free + room_mg_l) * (1.0 - loss[hour // 168 % len(loss)] / 24.0)
        worst = max(worst, free)
    assert worst < 10.0
    assert worst > 3.0
