"""May I go: a pool with all done may be left, each thing left undone is named, and not known is never ready."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosectl.core.advice.absence import AbsenceView, CallsKnown, Condition, State, good_for_days, readiness, verdict
from dosectl.core.alarms import Alarm, AlarmParams
from dosectl.core.control.habit import FlowHabit
from dosectl.core.estimate.view import water
from dosectl.core.evidence import Proof, Standing
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.instant import Instant
from dosectl.model.reasons import Code, Reason
from dosectl.model.requests import RequestId
from dosectl.model.signals import SignalId, SignalKind
from dosectl.model.water_tests import Quantity, WaterTest
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.loop import ClosedLoop, demo_loaded

NOW = datetime(2026, 6, 1, tzinfo=UTC)
DAY_S = 86400.0
CLOCK_S = 100.0 * DAY_S
STATE = ClosedLoop.of(demo_loaded(), PoolPlant(quince_house(), QUINCE_HOUSE_START, 1), use_mg_l_day=2.4).state
SITE = demo_loaded().site
PH = SignalId("ph")


def a_result(quantity: Quantity, value: float, days_ago: float) -> WaterTest:
    at_s = CLOCK_S - days_ago * DAY_S
    return WaterTest(RequestId(f"{quantity}{days_ago}"), quantity, value, 0.1, "drops", NOW, at_s, at_s, "owner")


def a_good_pool() -> AbsenceView:
    tests = (
        *(a_result(Quantity.FREE_CHLORINE, 3.0, 0.2), a_result(Quantity.PH, 7.5, 0.2)),
        *(a_result(Quantity.SALT, 4.0, 3.0), a_result(Quantity.STABILISER, 40.0, 3.0)),
        a_result(Quantity.ALKALINITY, 120.0, 3.0),
    )
    standing = Standing(
        proofs=tuple(Proof(f.id, f.digest, str(f.node or ""), True, True, "2026-05-01", "owner") for f in SITE.feeders),
        refills=tuple((f.id, CLOCK_S - DAY_S, 20_000.0) for f in SITE.feeders if f.kind == "pump"),
        daily_use_mg_l=((Substance.CHLORINE, (2.4,) * 14), (Substance.ACID, (2.0,) * 14)),
        calibrated=tuple((s.id, CLOCK_S - 3.0 * DAY_S) for s in SITE.signals if s.kind in (SignalKind.PH, SignalKind.ORP)),
    )
    statuses = {str(signal.id): "good" for signal in SITE.signals}
    seen = replace(water(SITE, STATE.durable.estimate), cya_mg_l=40.0, cya_sigma=3.0)
    habit = FlowHabit(tuple(0.99 if 6 <= hour < 18 else 0.01 for hour in range(24)))
    calls = CallsKnown(2, 1.0, True)
    return AbsenceView(SITE, CLOCK_S, standing, tests, STATE.durable.ledger, seen, (), statuses, calls, NOW, habit)


def with_result(view: AbsenceView, quantity: Quantity, value: float) -> tuple[WaterTest, ...]:
    """A newer test of one quantity, all others as they were."""
    return (*view.tests, a_result(quantity, value, 0.1))


def named(view: AbsenceView, name: str, days: float = 7.0) -> Condition:
    return next(item for item in readiness(view, days) if item.name == name)


def test_a_pool_with_all_done_is_ready_and_says_for_how_long() -> None:
    found = readiness(a_good_pool(), 7.0)
    assert {item.name: item.found for item in found if item.state is not State.READY} == {}
    assert verdict(found) is State.READY
    assert good_for_days(found) == pytest.approx(13.8), "the water test of this morning"


def test_a_test_says_nothing_of_a_container_filled_less_than_a_day_before_it() -> None:
    """A simulated pool filled up on the day of leaving, tested just before, stood above its band for 15 of 21 days."""
    plant = PoolPlant(quince_house(hypochlorite=True), QUINCE_HOUSE_START, 1)
    durable = ClosedLoop.of(demo_loaded(True), plant).state.durable
    good = replace(a_good_pool(), site=demo_loaded(True).site, ledger=durable.ledger)
    for filled_days_ago, state in ((0.05, State.UNKNOWN), (0.8, State.UNKNOWN), (1.5, State.READY)):
        refills = ((FeederId("hypo"), CLOCK_S - filled_days_ago * DAY_S, 20_000.0),)
        found = named(replace(good, standing=replace(good.standing, refills=refills)), "water test")
        assert found.state is state, filled_days_ago
        assert ("hypo" in found.found) == (state is State.UNKNOWN)
    acid = replace(good, standing=replace(good.standing, refills=((FeederId("acid"), CLOCK_S - 60.0, 20_000.0),)))
    assert named(acid, "water test").state is State.READY


def test_the_days_until_acid_is_held_back_and_stopped_are_foretold_from_the_alkalinity() -> None:
    """80 mg/L at 2 mg/L a day: held at 24 mg/L in 12 days, then 12 mg/L more at 1 a day. Stopped, only a test ends it."""
    good = a_good_pool()
    low = replace(good, tests=with_result(good, Quantity.ALKALINITY, 80.0))
    found = named(low, "alkalinity for acid", 21.0)
    assert found.state is State.READY
    assert found.good_for_days == pytest.approx(24.0)
    assert "held to 1 in 12 days and nearly stopped in 24" in found.found
    far = named(low, "alkalinity for acid", 30.0)
    assert far.state is State.NOT_READY
    assert "bicarbonate" in far.do
    old = replace(low, tests=tuple(replace(t, taken_s=CLOCK_S - 40 * DAY_S) for t in low.tests if t.value == 80.0))
    assert "bicarbonate" not in named(old, "alkalinity for acid", 30.0).do, "what is left of it after weeks only a test can tell"
    assert "test it" in named(old, "alkalinity for acid", 30.0).do
    untested = replace(good, tests=tuple(t for t in good.tests if t.quantity is not Quantity.ALKALINITY))
    assert named(untested, "alkalinity for acid").state is State.UNKNOWN
    poured = replace(good, standing=replace(good.standing, added_s=CLOCK_S - 3600.0))
    assert named(poured, "alkalinity for acid").state is State.UNKNOWN


def test_a_container_that_ends_before_the_return_is_named_with_its_days() -> None:
    good = a_good_pool()
    acid = SITE.feeding(Substance.ACID)[0]
    lasts = named(good, f"stock of {acid}").good_for_days
    assert lasts is not None
    little = replace(good, standing=replace(good.standing, refills=((acid, CLOCK_S - DAY_S, 500.0),)))
    whole = int(lasts)
    assert f"good for {whole} days" in named(good, f"stock of {acid}", whole + 0.9).found, "never rounded up to what it is not"
    condition = named(little, f"stock of {acid}")
    assert condition.state is State.NOT_READY
    assert condition.good_for_days == pytest.approx(lasts / 40.0), "500 mL instead of 20 L"
    assert "gloves and goggles" in condition.do


def test_each_thing_undone_is_named_and_what_is_not_known_is_never_ready() -> None:
    good = a_good_pool()
    instant = Instant(0.0, NOW, "boot")
    old = replace(good.standing, calibrated=((PH, CLOCK_S - 55 * DAY_S),))
    young = replace(good.standing, daily_use_mg_l=((Substance.CHLORINE, (2.4,) * 4), (Substance.ACID, (2.0,) * 14)))
    held = replace(good.standing, stop=Reason(Code("stop"), (), instant))
    standing = Alarm(Code("feed.no_response"), occurrence=1, present=True, acked=False)
    cases = [
        (replace(good, tests=()), "water test", State.UNKNOWN),
        (
            replace(good, tests=(a_result(Quantity.FREE_CHLORINE, 3.0, 9.0), a_result(Quantity.PH, 7.5, 9.0))),
            "water test",
            State.NOT_READY,
        ),
        (replace(good, tests=()), "salt", State.UNKNOWN),
        (replace(good, tests=()), "stabiliser", State.UNKNOWN),
        (replace(good, tests=(a_result(Quantity.STABILISER, 40.0, 61.0),)), "stabiliser", State.UNKNOWN),
        (replace(good, water=replace(good.water, cya_mg_l=2.0)), "stabiliser", State.NOT_READY),
        (replace(good, water=replace(good.water, cya_mg_l=15.0, cya_sigma=10.0)), "stabiliser", State.UNKNOWN),
        (replace(good, statuses=None), "probes", State.UNKNOWN),
        (replace(good, statuses={**(good.statuses or {}), "ph": "failure"}), "probes", State.NOT_READY),
        (replace(good, standing=replace(good.standing, proofs=())), f"proof of {SITE.feeders[0].id}", State.NOT_READY),
        (replace(good, calls=None), "calls", State.NOT_READY),
        (replace(good, calls=CallsKnown(2, None, True)), "calls", State.UNKNOWN),
        (replace(good, calls=CallsKnown(2, 20.0, True)), "calls", State.NOT_READY),
        (replace(good, calls=CallsKnown(2, 1.0, True, untested=("mail",))), "calls", State.UNKNOWN),
        (replace(good, calls=CallsKnown(1, 1.0, False)), "second person", State.NOT_READY),
        (replace(good, calls=CallsKnown(2, 1.0, False)), "second person", State.UNKNOWN),
        (replace(good, calls=CallsKnown(2, 1.0, True, routes=1)), "calls", State.NOT_READY),
        (replace(good, calls=CallsKnown(2, 1.0, True, watched=False)), "outside watcher", State.NOT_READY),
        (replace(good, tests=with_result(good, Quantity.SALT, 0.8)), "salt", State.NOT_READY),
        (replace(good, tests=with_result(good, Quantity.SALT, 7.0)), "salt", State.NOT_READY),
        (replace(good, tests=with_result(good, Quantity.FREE_CHLORINE, 0.2)), "water test", State.NOT_READY),
        (replace(good, tests=with_result(good, Quantity.PH, 8.3)), "water test", State.NOT_READY),
        (replace(good, standing=replace(good.standing, calibrated=())), "calibration of ph", State.UNKNOWN),
        (
            replace(good, standing=old),
            "calibration of ph",
            State.NOT_READY,
        ),
        (replace(good, ph_offset=-0.6), "probes", State.NOT_READY),
        (replace(good, site=replace(SITE, simulated=False)), f"proof of {SITE.feeders[0].id}", State.NOT_READY),
        (replace(good, habit=FlowHabit.assumed(8.0)), "pump hours", State.UNKNOWN),
        (replace(good, habit=FlowHabit((0.99,) * 3 + (0.01,) * 21)), "pump hours", State.NOT_READY),
        (replace(good, standing=young), "pump hours", State.UNKNOWN),
        (replace(good, habit=FlowHabit((0.99,) * 3 + (0.01,) * 21), standing=young), "pump hours", State.NOT_READY),
        (replace(good, lasting_mg_l_h=0.25), "pump hours", State.NOT_READY),
        (replace(good, water=replace(good.water, temp_c=15.0)), "season", State.NOT_READY),
        (replace(good, water=replace(good.water, temp_c=7.0)), "season", State.NOT_READY),
        (replace(good, statuses={**(good.statuses or {}), "water_temp": "failure"}), "season", State.UNKNOWN),
        (replace(good, out=("probe.sample_flow",)), "alarms", State.NOT_READY),
        (replace(good, alarms=(standing,)), "alarms", State.NOT_READY),
        (replace(good, standing=held), "feeding", State.NOT_READY),
    ]
    for view, name, state in cases:
        condition = named(view, name)
        assert (name, condition.state) == (name, state)
        assert condition.do, f"{name}: nobody says what to do"


@given(st.floats(0.1, 120.0), st.floats(0.1, 120.0))
def test_a_longer_absence_is_never_easier_than_a_shorter_one(first: float, second: float) -> None:
    short, long = sorted((first, second))
    ready = {item.name for item in readiness(a_good_pool(), short) if item.state is State.READY}
    assert {item.name for item in readiness(a_good_pool(), long) if item.state is State.READY} <= ready


@pytest.mark.parametrize("days", [0.0, -1.0, 121.0, float("nan")])
def test_days_that_nobody_can_answer_for_are_refused(days: float) -> None:
    with pytest.raises(ValueError, match="accepted is more than 0 and at most 120"):
        readiness(a_good_pool(), days)


def test_a_real_proof_is_in_date_or_not_until_the_return() -> None:
    good = a_good_pool()
    real = replace(SITE, simulated=False)

    def proven(at_utc: str) -> Condition:
        proofs = tuple(Proof(f.id, f.digest, str(f.node or ""), True, False, at_utc, "owner") for f in SITE.feeders)
        return named(replace(good, site=real, standing=replace(good.standing, proofs=proofs)), f"proof of {SITE.feeders[0].id}")

    assert proven("2026-05-01T10:00:00+00:00").state is State.READY
    assert proven("2025-05-01T10:00:00+00:00").state is State.NOT_READY, "395 days old: it ends 5 days from now"
    assert proven("in May").state is State.UNKNOWN


def test_a_rising_season_asks_more_of_a_container_and_a_falling_one_asks_about_the_cold() -> None:
    good = a_good_pool()
    acid = SITE.feeding(Substance.ACID)[0]
    at = {month: replace(good, utc=datetime(2026, month, 1, tzinfo=UTC)) for month in (3, 6, 10)}
    march, june = (named(at[month], f"stock of {acid}", 60.0).good_for_days for month in (3, 6))
    assert march is not None
    assert june is not None
    assert march < 0.75 * june, "from March to May the sun takes far more than it does today"
    assert named(at[6], "season", 60.0).state is State.READY
    cool = {month: replace(view, water=replace(view.water, temp_c=20.0)) for month, view in at.items()}
    assert named(cool[3], "season", 60.0).state is State.READY
    assert named(cool[10], "season", 60.0).state is State.NOT_READY, "the cell would rest"


def test_a_part_that_wears_out_before_the_return_is_not_ready_and_says_how_to_enter_a_new_one() -> None:
    good = a_good_pool()
    assert named(good, "worn parts").state is State.READY
    old = replace(good, limits=replace(good.limits, wear=AlarmParams(probe_days=103.0)))
    found = named(old, "worn parts")
    assert found.state is State.NOT_READY
    assert found.good_for_days == pytest.approx(3.0)
    assert "dosectl replaced" in found.do
    assert named(old, "worn parts", 2.0).state is State.READY


def test_an_empty_container_is_not_ready_however_little_is_known_of_the_use() -> None:
    good = a_good_pool()
    acid = SITE.feeding(Substance.ACID)[0]
    unknown = replace(good.standing, daily_use_mg_l=(), refills=((acid, CLOCK_S - DAY_S, 100.0),))
    condition = named(replace(good, standing=unknown), f"stock of {acid}")
    assert condition.state is State.NOT_READY
    assert "someone trained" in condition.do


def test_interlocks_that_cant_judge_are_named_and_bar_nobody_from_going() -> None:
    good = a_good_pool()
    why = Reason(Code("alarm.guards_unable"), (("guards", "feeder.runs, cell.power"),), NOW)
    view = replace(good, alarms=(Alarm(Code("guards.unable"), occurrence=1, present=True, acked=False, why=why),))
    condition = named(view, "interlocks")
    assert condition.state is State.READY
    assert "feeder.runs, cell.power" in condition.found
    assert "dosectl guards" in condition.do
    assert named(view, "alarms").state is State.READY
    assert "none stands but notices" in named(view, "alarms").found  # what `status` lists is not denied here
    assert named(good, "alarms").found == "none stands"
    assert all(item.name != "interlocks" for item in readiness(good, 7.0))


def test_an_open_alarm_is_named_in_words() -> None:
    good = a_good_pool()
    standing = Alarm(Code("feed.no_response"), occurrence=1, present=True, acked=False)
    for view in (replace(good, alarms=(standing,)), replace(good, out=("feed.no_response",))):
        condition = named(view, "alarms")
        assert "What was fed brought no change in the water" in condition.found
        assert "feed.no_response" not in condition.found
