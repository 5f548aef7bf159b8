"""Other settings on recorded days, held against what they really would have done to the same simulated pool."""

from collections import deque
from collections.abc import Sequence
from copy import deepcopy
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path
from statistics import fmean

import pytest

from dosectl.core.advice.feeding import uv_at
from dosectl.core.estimate.chlorine import cya_of
from dosectl.daemon.parts import durable_from
from dosectl.daemon.wiring import plan_of as daemon_plan
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.signals import SignalId, SignalKind
from dosectl.pool_model.protocol import Plant, Truth
from dosectl.rehearsal.loop import ClosedLoop, demo_loaded, plan_of
from dosectl.rehearsal.past import NothingToReplay, Past, past
from dosectl.rehearsal.recorded_acidity import Learnt
from dosectl.rehearsal.recorded_pool import RecordedPool
from dosectl.rehearsal.replay import Kept, Replay, seen_before
from dosectl.settings.load import Loaded
from dosectl.store.journal import Journal
from dosectl.store.read import Record
from tests.builders import a_signal
from tests.daemon.recorded import Recorded

BEFORE_DAYS, DAYS = 8.0, 2.0  # whoever asks what would have been has watched a week; a day teaches too little of the demand
VOLUME_M3 = 50.0  # as the demo's settings have it
SEED = 3


def more_chlorine(text: str) -> str:
    return text + "\n[control]\nshare_salt = 0.075\n"


def less_ph(text: str) -> str:
    return text + "\n[control]\nph_target = 7.3\n"


def as_it_is(text: str) -> str:
    return text


def enter_tests(pool: Recorded) -> None:
    for quantity in ("free_chlorine", "ph", "alkalinity"):
        pool.loop.water_test(quantity, "drops")


@dataclass(frozen=True)
class Days:
    """The recorded days and what was known at their end. midway : the loop as they began"""

    days: Past
    before: Past
    kept: Kept
    path: Path
    truths: Sequence[Truth]
    loaded: Loaded
    midway: ClosedLoop | None = None


@pytest.fixture(scope="module")
def days(tmp_path_factory: pytest.TempPathFactory) -> Days:
    pool = Recorded(tmp_path_factory.mktemp("replay"), SEED)
    enter_tests(pool)
    truths = [moment.truth for moment in pool.run(24.0 * BEFORE_DAYS)]
    midway = deepcopy(pool.loop)
    truths += [moment.truth for moment in pool.run(24.0 * DAYS)]
    pool.close()
    return replace(days_of(pool, truths, BEFORE_DAYS, DAYS), midway=midway)


def days_of(pool: Recorded, truths: Sequence[Truth], before_days: float, days: float) -> Days:
    """The last days on record of a pool that ended, and those before."""
    journal = Journal.open(pool.path, readonly=True)
    stored = journal.load()
    journal.close()
    durable = durable_from(daemon_plan(pool.loaded), stored.parts, stored.ledger)
    assert durable is not None
    assert stored.last_utc is not None
    start = stored.last_utc - timedelta(days=days)
    with Record(pool.path) as record:
        found = past(record, pool.loaded.site, start, days)
        before = past(record, pool.loaded.site, start - timedelta(days=before_days), before_days)
    return Days(found, before, Kept(durable, stored.last_utc), pool.path, truths, pool.loaded)


def replayed(days: Days, loaded: Loaded) -> list[Truth]:
    seen = seen_before(days.loaded, days.before, days.kept)
    return [moment.truth for moment in Replay(loaded, days.days, days.kept, seen).moments()]


def really(days: Days, loaded: Loaded) -> tuple[list[Truth], Truth]:
    """The same pool, weather and probes, with other settings from the first recorded day on; and how that day began."""
    assert days.midway is not None
    loop = deepcopy(days.midway)
    began = loop.plant.truth()
    loop.plan = plan_of(loaded, 60.0)
    return [moment.truth for moment in loop.run(24.0 * DAYS)], began


def free(truths: Sequence[Truth]) -> float:
    return fmean(truth.free_chlorine_mg_l for truth in truths)


def last_day_ph(truths: Sequence[Truth]) -> float:
    return fmean(truth.ph for truth in truths[-24 * 60 :])


def test_the_settings_of_the_record_feed_what_is_on_record(days: Days) -> None:
    truths = replayed(days, days.loaded)
    booked = days.days.fed_in_all(Substance.CHLORINE)
    assert booked > 3.0
    assert truths[-1].fed_chlorine_g / VOLUME_M3 == pytest.approx(booked, rel=0.15)
    assert free(truths) == pytest.approx(fmean(days.days.free_mg_l), abs=0.3)
    assert truths[-1].fed_without_flow_s == 0.0


def test_more_chlorine_is_foretold_as_it_would_have_been(days: Days) -> None:
    more = demo_loaded(False, more_chlorine)
    foretold, own = replayed(days, more), replayed(days, days.loaded)
    truly, began = really(days, more)
    before = days.truths[-round(DAYS * 24 * 60) :]
    more_fed = (foretold[-1].fed_chlorine_g - own[-1].fed_chlorine_g) / VOLUME_M3
    truly_fed = (
        truly[-1].fed_chlorine_g - began.fed_chlorine_g - (before[-1].fed_chlorine_g - before[0].fed_chlorine_g)
    ) / VOLUME_M3
    assert truly_fed > 1.0
    assert more_fed == pytest.approx(truly_fed, rel=0.25)
    assert free(foretold) - free(own) == pytest.approx(free(truly) - free(before), rel=0.25)


def test_more_acid_is_foretold_as_it_would_have_been(days: Days) -> None:
    lower = demo_loaded(False, less_ph)
    foretold, own = replayed(days, lower), replayed(days, days.loaded)
    truly, _ = really(days, lower)
    fell = last_day_ph(truly) - last_day_ph(days.truths)
    assert fell < -0.05
    assert last_day_ph(foretold) - last_day_ph(own) == pytest.approx(fell, abs=0.05)
    assert foretold[-1].fed_acid_g > 1.2 * own[-1].fed_acid_g


def pool_of(days: Days, loaded: Loaded | None = None) -> RecordedPool:
    plan = daemon_plan(days.loaded)
    return RecordedPool(days.days, Learnt(plan.estimate, days.kept.durable.estimate, days.kept.at), (loaded or days.loaded).site)


def on_record(days: Days, pool: RecordedPool) -> dict[str, float]:
    """The levels at which the feeders ran in this minute of the record."""
    minute = days.days.at(pool.utc)
    return {
        str(f.id): min(1.0, days.days.drawn_g(f.id, minute, minute + 1.0) / (60.0 * f.rate_g_s)) for f in days.loaded.site.feeders
    }


def was(days: Days, pool: RecordedPool) -> float:
    """Free chlorine on record at the pool's moment. [mg/L]"""
    return days.days.free_at(days.days.at(pool.utc))


def unfed_minutes(days: Days) -> int:
    """The first minute of twenty in which the record fed no chlorine, with the pump running."""
    flows = days.days.readings[SignalId("flow")]
    for minute in range(days.days.minutes - 12 * 60):
        if flows[minute] == flows[minute + 19] == 1.0 and days.days.fed_between(Substance.CHLORINE, minute, minute + 20.0) == 0.0:
            return minute
    raise AssertionError("no such minutes on record")


def test_what_was_fed_as_on_record_leaves_the_water_as_it_was_believed(days: Days) -> None:
    pool = pool_of(days)
    assert isinstance(pool, Plant)
    for _ in range(12 * 60):
        pool.advance(60.0, on_record(days, pool))
        assert pool.truth().free_chlorine_mg_l == pytest.approx(was(days, pool), abs=0.02)
    untouched = pool_of(days)
    untouched.utc = pool.utc
    assert pool.truth().ph == pytest.approx(untouched.truth().ph, abs=0.01)
    assert pool.truth().fed_chlorine_g > 0.0


def test_a_feed_that_never_was_shows_at_the_probes_and_fades(days: Days) -> None:
    fed, untouched = pool_of(days), pool_of(days)
    fed.utc += timedelta(minutes=unfed_minutes(days))
    for _ in range(20):
        fed.advance(60.0, {**on_record(days, fed), "cell": 1.0})
    untouched.utc = fed.utc
    risen = fed.truth().free_chlorine_mg_l - untouched.truth().free_chlorine_mg_l
    assert risen == pytest.approx(20.0 / 3.0 / VOLUME_M3, rel=0.2)  # of the demo's 20 g/h, as what arrives is learnt
    orp, orp_was = (float(pool.signals()["id:orp"]) for pool in (fed, untouched))
    assert 0.5 < orp - orp_was < 10.0
    later = fed.utc + timedelta(hours=10)
    while fed.utc < later:
        fed.advance(60.0, on_record(days, fed))
    untouched.utc = fed.utc
    left = fed.truth().free_chlorine_mg_l - untouched.truth().free_chlorine_mg_l
    assert 0.2 * risen < left < 0.95 * risen


def test_of_a_cell_that_gives_half_in_such_water_half_of_a_feed_shows(days: Days) -> None:
    minutes, risen = timedelta(minutes=unfed_minutes(days)), []
    warm = pool_of(days)
    warm.utc += minutes + timedelta(minutes=10)  # the water of the pool, and no more that of the line
    warm_c = warm.truth().temp_c
    for colder_k in (0.0, 2.5):
        site = days.loaded.site
        cells = tuple(replace(f, full_from_c=warm_c + colder_k) if f.kind == "cell" else f for f in site.feeders)
        loaded = replace(days.loaded, site=replace(site, feeders=cells))
        fed, untouched = pool_of(days, loaded), pool_of(days)
        fed.utc += minutes
        untouched.utc = fed.utc + timedelta(minutes=20)
        for _ in range(20):
            fed.advance(60.0, {**on_record(days, fed), "cell": 1.0})
        risen.append(fed.truth().free_chlorine_mg_l - untouched.truth().free_chlorine_mg_l)
    assert risen[1] == pytest.approx(0.5 * risen[0], rel=0.1)


def test_what_a_cold_cell_fed_on_record_counts_as_the_half_that_it_gave_beside_a_pump_that_is_tried(days: Days) -> None:
    """Fed the same mass by a pump, the water has the other half more; both were reckoned by the tried settings' feeders."""
    risen = []
    for full_from_c in (5.0, 60.0):
        site = days.loaded.site
        was = tuple(replace(f, full_from_c=full_from_c) if f.kind == "cell" else f for f in site.feeders)
        tried = tuple(replace(f, id=FeederId("pump"), kind="pump") if f.kind == "cell" else f for f in site.feeders)
        past_days = replace(days, days=replace(days.days, site=replace(site, feeders=was)))
        pool = pool_of(past_days, replace(days.loaded, site=replace(site, feeders=tried)))
        untouched = pool_of(days)
        pool.utc += timedelta(minutes=fed_minutes(days))
        for _ in range(20):
            minute = days.days.at(pool.utc)
            drawn_g = days.days.drawn_g(FeederId("cell"), minute, minute + 1.0)
            (feeder,) = (f for f in tried if f.id == "pump")
            pool.advance(60.0, {"pump": min(1.0, drawn_g / (60.0 * feeder.rate_g_s))})
        untouched.utc = pool.utc
        risen.append(pool.truth().free_chlorine_mg_l - untouched.truth().free_chlorine_mg_l)
    assert risen[0] == pytest.approx(0.0, abs=0.01)
    assert risen[1] > 0.05  # 60 degC: a fifth of its output is all that the record's cell gave


def fed_minutes(days: Days) -> int:
    """A minute of the record from which on its cell runs for twenty."""
    cell = FeederId("cell")
    return next(m for m in range(days.days.minutes) if all(days.days.drawn_g(cell, m + k, m + k + 1.0) > 0.0 for k in range(20)))


def test_feedback_follows_the_commands_and_not_the_record(days: Days) -> None:
    pool = pool_of(days)
    pool.advance(0.0, {"acid": 1.0, "cell": 1.0})
    running = pool.signals()
    pool.advance(0.0, {})
    resting = pool.signals()
    assert running["id:acid_load"] is True
    assert resting["id:acid_load"] is False
    assert float(running["id:cell_load"]) > 0.5 > float(resting["id:cell_load"])  # A, see the demo's settings


def test_a_test_of_the_record_comes_out_as_in_the_water_fed_otherwise(days: Days) -> None:
    pool = pool_of(days)
    assert pool.would_have_read("free_chlorine", 2.0) == 2.0
    pool.utc += timedelta(minutes=unfed_minutes(days))
    for _ in range(20):
        pool.advance(60.0, {"cell": 1.0})
    assert pool.would_have_read("free_chlorine", 2.0) > 2.1
    assert pool.would_have_read("free_chlorine", 2.0) == pytest.approx(2.0 + pool.truth().free_chlorine_mg_l - was(days, pool))
    assert pool.would_have_read("alkalinity", 80.0) == 80.0


def test_what_a_record_can_not_do_is_refused(days: Days) -> None:
    pool = pool_of(days)
    with pytest.raises(KeyError, match="no faults"):
        pool.set_fault("orp_stuck", True)
    with pytest.raises(KeyError, match="nobody can test"):
        pool.manual_test("ph", "drops")
    with pytest.raises(KeyError, match="nothing can be added"):
        pool.add_by_hand("bicarbonate_g", 10.0)
    with pytest.raises(KeyError, match="the feeders are"):
        pool.advance(1.0, {"another": 1.0})
    with pytest.raises(ValueError, match="time goes on"):
        pool.advance(-1.0, {})


def test_a_sunlight_sensor_that_was_dark_on_record_leaves_the_usual_sun(days: Days) -> None:
    """The daemon did not believe it; a replay of its days had no sun."""
    sensor = a_signal(SignalKind.SUNLIGHT)
    site = replace(days.days.site, signals=(*days.days.site.signals, sensor))
    minutes = len(days.days.free_mg_l)
    noon = next(number for number in range(minutes) if uv_at(site.pool, days.days.start + timedelta(minutes=number)) > 0.7)
    sky = []
    for percent in (0.0, 50.0):
        told = replace(days.days, site=site, readings={**days.days.readings, sensor.id: (percent,) * minutes})
        sky.append(pool_of(replace(days, days=told))._uv(noon))
    usual = pool_of(days)._uv(noon)
    assert sky[0] == pytest.approx(usual)
    assert sky[1] == pytest.approx(0.5 * usual / days.kept.durable.estimate.light_share)


def test_days_that_are_not_on_record_are_refused(days: Days) -> None:
    with Record(days.path) as record, pytest.raises(NothingToReplay, match=r"0 % of the minutes"):
        past(record, days.loaded.site, days.days.start - timedelta(days=30), 5.0)


def test_a_gap_on_record_is_silence_and_its_water_is_bridged(days: Days) -> None:
    with Record(days.path) as record:
        longer = past(record, days.loaded.site, days.days.start - timedelta(days=BEFORE_DAYS + 1.0), BEFORE_DAYS + DAYS + 1.0)
    assert longer.free_mg_l[0] == longer.free_mg_l[60]  # a day before the first entry
    values = longer.readings[SignalId("orp")]
    assert values[0] != values[0]
    plan = daemon_plan(days.loaded)
    pool = RecordedPool(longer, Learnt(plan.estimate, days.kept.durable.estimate, days.kept.at), days.loaded.site)
    assert "id:orp" not in pool.signals()


@pytest.fixture(scope="module")
def poured(tmp_path_factory: pytest.TempPathFactory) -> Days:
    """A pool into which 1.5 kg of stabiliser (30 mg/L) and 2 kg of bicarbonate were put after a day."""
    pool = Recorded(tmp_path_factory.mktemp("poured"), SEED)
    enter_tests(pool)
    deque(pool.run(24.0), maxlen=1)
    for product, grams in (("stabiliser", 1500.0), ("bicarbonate", 2000.0)):
        pool.plant.add_by_hand(f"{product}_g", grams)
        pool.loop.ask("added_by_hand", (("product", product), ("amount", grams), ("as_said", True)))
    truths = [moment.truth for moment in pool.run(12.0)]
    pool.close()
    return days_of(pool, truths, 0.5, 1.0)


def test_what_was_poured_in_is_in_the_water_from_its_own_moment_on_and_once(poured: Days) -> None:
    """The belief of now holds it already: wound back without it, and entered again, a replay aimed for it twice over."""
    replay = Replay(poured.loaded, poured.days, poured.kept)
    moments = list(replay.moments())
    before, after = moments[60].decision.water, moments[-1].decision.water
    assert after.cya_mg_l == pytest.approx(cya_of(poured.kept.durable.estimate.mean), abs=2.0)
    assert before.cya_mg_l == pytest.approx(after.cya_mg_l - 30.0, abs=2.0)
    assert after.alkalinity_mg_l - before.alkalinity_mg_l == pytest.approx(23.8, abs=4.0)  # 2 kg / 50 m3, 84.01 / 50.04
    assert moments[60].truth.cya_mg_l == pytest.approx(before.cya_mg_l, abs=2.0)


def test_a_feeder_of_another_name_draws_from_the_container_once(days: Days) -> None:
    renamed = demo_loaded(False, lambda text: text.replace("[feeders.acid]", "[feeders.sour]"))
    own, other = pool_of(days), pool_of(days, renamed)
    for pool, name in ((own, "acid"), (other, "sour")):
        for _ in range(round(DAYS * 24 * 60) - 1):
            levels = on_record(days, pool)
            pool.advance(60.0, {name: levels["acid"], "cell": levels["cell"]})
    drawn, also = (float(pool.signals()["id:acid_level"]) for pool in (own, other))
    assert also == pytest.approx(drawn, abs=0.1)
