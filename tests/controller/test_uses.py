"""A day's use is learnt from days on which the pool itself decided it."""

from dataclasses import replace
from datetime import timedelta

import pytest

from dosectl.core.controller.uses import DAY_S, DayCount, count, opened
from dosectl.core.evidence import SEASON_CLOSED, Standing
from dosectl.core.interlocks.usage import RAISED_TIMES
from dosectl.model.feeds import Substance
from dosectl.model.reasons import Code, Reason
from dosectl.model.verdicts import Denial, Limit
from tests.builders import CELL, CLOCK_S, a_ledger, an_evidence

USE_MG_L = 1.5


def days_after(*limits: str) -> tuple[float, ...]:
    """The accepted days of chlorine after one day with these guards' limits standing."""
    evidence = an_evidence(ledger=a_ledger(an_evidence().site, {CELL: ((CLOCK_S - 5 * DAY_S, 10.0),)}))
    why = Reason(Code("x"), (), evidence.now)
    objections = {CELL: tuple(Limit(Code(guard), 5.0, why) for guard in limits)}
    standing = replace(evidence.standing, daily_use_mg_l=())
    days, standing = count(DayCount(), standing, evidence, objections, 60.0)
    for hour in range(1, 25):
        now = replace(evidence, clock_s=CLOCK_S + hour * 3600.0)
        if hour == 12:
            fed = a_ledger(evidence.site, {CELL: ((CLOCK_S - 5 * DAY_S, 10.0), (CLOCK_S, USE_MG_L * 50.0))})
            evidence = replace(evidence, ledger=fed)
        days, standing = count(days, standing, replace(now, ledger=evidence.ledger), objections, 3600.0)
    return dict(standing.daily_use_mg_l).get(Substance.CHLORINE, ())


def test_a_healthy_day_is_accepted_also_under_its_plain_limits() -> None:
    assert days_after() == pytest.approx((USE_MG_L,))
    assert days_after("mass.hour", "mass.day", "mass.single") == pytest.approx((USE_MG_L,))


@pytest.mark.parametrize("guard", ["cover.closed", "chlorine.response", "mass.learned", "probe.orp"])
def test_a_day_that_a_limit_held_down_teaches_nothing(guard: str) -> None:
    assert days_after(guard) == ()


@pytest.mark.parametrize(("left_mg_l", "accepted"), [(0.05, ()), (0.4, (USE_MG_L,))])
def test_a_day_under_a_cover_is_accepted_where_the_limit_did_not_bind_it(left_mg_l: float, accepted: tuple[float, ...]) -> None:
    """A pool that is covered for part of each day stayed a new one for ever; a day that its limit cut is the limit's use."""
    evidence = an_evidence(ledger=a_ledger(an_evidence().site, {CELL: ((CLOCK_S - 5 * DAY_S, 10.0),)}))
    why = Reason(Code("cover.is_closed"), (("left_mg_l", left_mg_l),), evidence.now)
    closed = {CELL: (Limit(Code("cover.closed"), 5.0, why),)}
    standing = replace(evidence.standing, daily_use_mg_l=())
    days, standing = count(DayCount(), standing, evidence, closed, 60.0)
    fed = a_ledger(evidence.site, {CELL: ((CLOCK_S - 5 * DAY_S, 10.0), (CLOCK_S, USE_MG_L * 50.0))})
    for hour in range(1, 25):
        now = replace(evidence, clock_s=CLOCK_S + hour * 3600.0, ledger=fed)
        days, standing = count(days, standing, now, closed, 3600.0)
    assert dict(standing.daily_use_mg_l).get(Substance.CHLORINE, ()) == pytest.approx(accepted)


@pytest.mark.parametrize(("known", "taught"), [((), 3.8), ((4.3,) * 14, 4.3), ((2.0,) * 14, 3.8)])
def test_a_day_that_the_daily_limit_cut_neither_raises_nor_lowers_that_limit(known: tuple[float, ...], taught: float) -> None:
    """A probe that asks for all feeds the limit each day; learnt as usual use it would lift the limit by 1.3, again and again."""
    evidence = an_evidence(ledger=a_ledger(an_evidence().site, {CELL: ((CLOCK_S - 5 * DAY_S, 10.0),)}))
    why = Reason(Code("x"), (), evidence.now)
    standing = replace(evidence.standing, daily_use_mg_l=((Substance.CHLORINE, known),))
    days, standing = count(DayCount(), standing, evidence, {}, 60.0)
    fed = a_ledger(evidence.site, {CELL: ((CLOCK_S - 5 * DAY_S, 10.0), (CLOCK_S, 6.0 * 50.0))})
    for hour in range(1, 25):
        left = {CELL: (Limit(Code("mass.day"), 0.0 if hour in (22, 23) else 50.0, why),)}
        now = replace(evidence, clock_s=CLOCK_S + hour * 3600.0, ledger=fed, standing=standing)
        days, standing = count(days, standing, now, left, 3600.0)
    assert dict(standing.daily_use_mg_l)[Substance.CHLORINE][-1] == pytest.approx(taught)
    assert RAISED_TIMES * 3.8 <= 5.0


def a_day_barred_for_five_hours_by(guard: str, reason: str) -> tuple[float, ...]:
    evidence = an_evidence(ledger=a_ledger(an_evidence().site, {CELL: ((CLOCK_S - 5 * DAY_S, 10.0),)}))
    why = Reason(Code(reason), (), evidence.now)
    standing = replace(evidence.standing, daily_use_mg_l=())
    days, standing = count(DayCount(), standing, evidence, {}, 60.0)
    fed = a_ledger(evidence.site, {CELL: ((CLOCK_S - 5 * DAY_S, 10.0), (CLOCK_S, USE_MG_L * 50.0))})
    for hour in range(1, 25):
        barred = {CELL: (Denial(Code(guard), why, False, Code("itself")),)} if hour <= 5 else {}
        now = replace(evidence, clock_s=CLOCK_S + hour * 3600.0, ledger=fed)
        days, standing = count(days, standing, now, barred, 3600.0)
    return dict(standing.daily_use_mg_l).get(Substance.CHLORINE, ())


@pytest.mark.parametrize(
    ("guard", "reason"),
    [("mixing.wait", "mixing.waiting"), ("lockout.spacing", "lockout.spacing"), ("flow.settle", "flow.settling")],
)
def test_the_pauses_of_a_healthy_feed_are_no_doubt(guard: str, reason: str) -> None:
    """A pump waits after each feed until it has mixed in, for hours of a busy day. Taken for doubt, its use was never learnt."""
    assert a_day_barred_for_five_hours_by(guard, reason) == pytest.approx((USE_MG_L,))


@pytest.mark.parametrize(
    ("guard", "reason"),
    [("lockout.spacing", "lockout.unknown"), ("feeder.still", "feeder.no_start"), ("stop.manual", "stop.asked")],
)
def test_what_bars_for_a_cause_is_doubt(guard: str, reason: str) -> None:
    assert a_day_barred_for_five_hours_by(guard, reason) == ()


def test_a_long_rest_ends_what_autumn_taught_and_a_short_one_does_not() -> None:
    """October's litre a day would cut April's feed: a rested pool is as unknown as a new one."""

    def kept_after(closed: timedelta) -> tuple[float, ...]:
        evidence = an_evidence()
        begun = replace(evidence.now, utc=evidence.now.utc - closed)
        why = Reason(SEASON_CLOSED, (), begun)
        standing = replace(evidence.standing, stop=why, daily_use_mg_l=((Substance.CHLORINE, (1.0,) * 14),))
        days, standing = count(DayCount(), standing, evidence, {}, 60.0)
        days, standing = count(days, standing, replace(evidence, clock_s=CLOCK_S + DAY_S), {}, 60.0)
        return dict(standing.daily_use_mg_l).get(Substance.CHLORINE, ())

    assert kept_after(timedelta(days=27)) == (1.0,) * 14
    assert kept_after(timedelta(days=28)) == ()


def test_a_season_opens_anew_only_after_a_long_rest() -> None:
    evidence = an_evidence()

    def shut(days: int) -> Standing:
        since = replace(evidence.now, utc=evidence.now.utc - timedelta(days=days))
        return replace(evidence.standing, stop=Reason(SEASON_CLOSED, (), since))

    after = evidence.standing
    assert opened(shut(180), after, evidence.now)
    assert not opened(shut(5), after, evidence.now)
    assert not opened(shut(180), shut(180), evidence.now)
    assert not opened(after, after, evidence.now)
    by_hand = replace(after, stop=Reason(Code("stop.manual"), (), shut(180).stop.since))  # type: ignore[union-attr]
    assert not opened(by_hand, after, evidence.now)
