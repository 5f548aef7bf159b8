"""Reminders: by age, by doubt, by what a container still holds; never in the past, never double."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from dosectl.core.advice.reminders import CALIBRATE, REFILL, STALE, TEST, TEST_DOUBT, WORN, Reminder, ReminderView, reminders
from dosectl.core.alarms import AlarmParams
from dosectl.model.feeds import Substance
from dosectl.model.ledger import FeederLedger
from dosectl.model.signals import SignalKind
from dosectl.model.water_tests import Quantity
from dosectl.rehearsal.loop import demo_loaded
from tests.advice.test_absence import CLOCK_S, DAY_S, SITE, a_good_pool, a_result

ROME = ZoneInfo("Europe/Rome")
NOW = datetime(2026, 7, 11, 9, 0, tzinfo=ROME)
GOOD = a_good_pool()
SURE = replace(GOOD.water, free_chlorine_mg_l=3.0, sigma_mg_l=0.3, ph_sigma=0.05, alkalinity_sigma=5.0, cya_sigma=4.0)


def a_view(**changes: object) -> ReminderView:
    tests = tuple(a_result(quantity, 3.0, 1.0) for quantity in Quantity)
    whole = ReminderView(SITE, NOW, CLOCK_S, GOOD.standing, tests, GOOD.ledger, SURE)
    return replace(whole, **changes)  # type: ignore[arg-type]


def of(view: ReminderView, key: str) -> Reminder:
    return next(item for item in reminders(view) if item.key == key)


def test_a_test_is_due_by_its_age_and_at_once_where_doubt_is_high() -> None:
    assert (of(a_view(), "test-free_chlorine").on, of(a_view(), "test-free_chlorine").kind) == (date(2026, 7, 17), TEST)
    doubt = a_view(water=replace(SURE, sigma_mg_l=1.2))
    assert (of(doubt, "test-free_chlorine").on, of(doubt, "test-free_chlorine").kind) == (NOW.date(), TEST_DOUBT)
    assert of(doubt, "test-ph").kind is TEST
    never = a_view(tests=())
    assert {item.on for item in reminders(never) if item.key.startswith("test-")} == {NOW.date()}


def test_a_container_is_refilled_a_week_before_it_ends_and_a_probe_calibrated_when_its_time_is_up() -> None:
    acid = SITE.feeding(Substance.ACID)[0]
    item = of(a_view(), f"refill-{acid}")
    feeder = SITE.feeder(acid)
    lasts = 20_000.0 / (2.0 * SITE.pool.volume_m3 * feeder.ml_per_g)
    assert item.kind is REFILL
    assert abs((item.on - NOW.date()).days - (lasts - 7.0)) <= 1.0
    standing = replace(GOOD.standing, refills=((acid, CLOCK_S - DAY_S, 500.0),))
    assert of(a_view(standing=standing), f"refill-{acid}").on == NOW.date()
    ph = next(signal.id for signal in SITE.signals if signal.kind is SignalKind.PH)
    assert (of(a_view(), f"calibrate-{ph}").on, of(a_view(), f"calibrate-{ph}").kind) == (date(2026, 9, 6), CALIBRATE)


def test_the_season_is_the_hemispheres_and_none_near_the_equator() -> None:
    south = replace(SITE, pool=replace(SITE.pool, latitude_deg=-35.0))
    assert of(a_view(), "season-closes").on == date(2026, 10, 15)
    assert of(a_view(site=south), "season-opens").on == date(2026, 10, 15)
    assert of(a_view(site=south), "season-closes").on == date(2027, 4, 15)
    tropic = replace(SITE, pool=replace(SITE.pool, latitude_deg=12.0))
    assert not [item for item in reminders(a_view(site=tropic)) if item.key.startswith("season")]


@given(st.floats(0.0, 3000.0), st.floats(0.0, 3000.0))
def test_nothing_is_due_before_today_and_nothing_stands_twice(tested_ago: float, on: float) -> None:
    now = NOW + timedelta(days=on)
    tests = (a_result(Quantity.PH, 7.5, tested_ago),)
    found = reminders(a_view(now=now, tests=tests))
    assert all(item.on >= now.date() for item in found)
    assert len({item.key for item in found}) == len(found)
    assert [item.on for item in found] == sorted(item.on for item in found)


def test_a_worn_part_is_due_now_and_one_that_wears_when_its_hours_are_up() -> None:
    ph = next(signal.id for signal in SITE.signals if signal.kind is SignalKind.PH)
    due = of(a_view(), f"replace-{ph}")
    assert (due.kind, due.on) == (WORN, (NOW + timedelta(days=540.0 - 100.0)).date())
    old = a_view(limits=AlarmParams(probe_days=60.0))
    assert of(old, f"replace-{ph}").on == NOW.date()
    new = replace(GOOD.standing, replaced=((str(ph), CLOCK_S, 0.0),))
    assert of(a_view(standing=new, limits=AlarmParams(probe_days=60.0)), f"replace-{ph}").on == (NOW + timedelta(days=60)).date()
    cell = SITE.feeding(Substance.CHLORINE)[0]
    hours_a_day = 2.4 * SITE.pool.volume_m3 / SITE.feeder(cell).rate_g_s / 3600.0
    lasts = of(a_view(), f"replace-{cell}").on - NOW.date()
    assert abs(lasts.days - 8000.0 / hours_a_day) <= 1.0


def test_hypochlorite_that_stands_for_a_season_is_to_be_renewed_and_acid_is_not() -> None:
    site = demo_loaded(hypochlorite=True).site
    pump, acid = site.feeding(Substance.CHLORINE)[0], site.feeding(Substance.ACID)[0]
    standing = replace(GOOD.standing, refills=((pump, CLOCK_S - 20 * DAY_S, 20_000.0), (acid, CLOCK_S - 99 * DAY_S, 5_000.0)))
    ledger = replace(GOOD.ledger, feeders=tuple(FeederLedger(item.id) for item in site.feeders))
    view = a_view(site=site, standing=standing, ledger=ledger)
    assert (of(view, f"renew-{pump}").kind, of(view, f"renew-{pump}").on) == (STALE, (NOW + timedelta(days=70)).date())
    assert [item.key for item in reminders(view) if item.key.startswith("renew-")] == [f"renew-{pump}"]
