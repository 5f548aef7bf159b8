"""The comparison's short form: every way runs, counts what it should, and the order that must hold holds."""

from dataclasses import replace
from pathlib import Path

import pytest

from tests.benchmarks.control.ablation import line as ablation_line
from tests.benchmarks.control.count import Count, target_mg_l
from tests.benchmarks.control.kept import Kept
from tests.benchmarks.control.lacks import LACKS
from tests.benchmarks.control.pools import SCENARIOS, drawn, named
from tests.benchmarks.control.report import line, plot
from tests.benchmarks.control.trial import Job, run
from tests.benchmarks.control.ways import WAYS, Tuning

DAYS = 2.0


def count_of(way: str, tuning: Tuning | None = None) -> Count:
    return run(Job("away", 3, True, way, tuning or Tuning(gain=0.02, integral=0.003, start=0.3), days=DAYS))


@pytest.fixture(scope="module")
def oracle() -> Count:
    return count_of("oracle")


def test_one_who_knows_everything_holds_the_pool(oracle: Count) -> None:
    assert oracle.hours == pytest.approx(24.0 * DAYS)
    assert oracle.bad_share < 0.02
    assert oracle.dead_h == oracle.over_h == 0.0


@pytest.mark.parametrize("way", sorted(WAYS))
def test_each_way_feeds_and_never_does_better_than_knowing(way: str, oracle: Count) -> None:
    count = count_of(way)
    assert count.chlorine_g > 0.0
    assert count.bad_share >= oracle.bad_share


def test_dosectl_holds_it_too_and_states_its_doubt() -> None:
    counts = [run(Job("away", seed, True, "dosectl", Tuning(), days=DAYS)) for seed in (3, 4, 5, 6)]
    assert sum(count.bad_share for count in counts) / len(counts) < 0.2  # what is aimed at for absences
    for count in counts:
        assert count.dead_h == count.over_h == 0.0
        assert count.latched == 0
        assert count.dry_s == 0.0
        assert count.inside["50"] <= count.inside["90"] <= count.inside["99"]
        assert count.inside["99"] > 0.8 * count.hours


def test_with_the_stabiliser_known_it_takes_about_what_one_who_knows_everything_takes(oracle: Count) -> None:
    """The owner's figure of this pool is 30 % high after a fortnight, and so is what is fed; that is no error of control."""
    known = run(Job("away", 3, True, "dosectl", Tuning(), days=DAYS, lacks="error of stabiliser"))
    assert known.chlorine_g == pytest.approx(oracle.chlorine_g, rel=0.3)


def test_the_target_is_a_twentieth_of_the_stabiliser_within_two_and_seven() -> None:
    assert [target_mg_l(cya) for cya in (0.0, 40.0, 60.0, 140.0, 200.0)] == [2.0, 2.0, 3.0, 7.0, 7.0]


@pytest.mark.parametrize("scenario", [s.name for s in SCENARIOS])
def test_the_same_seed_draws_the_same_pool_and_another_one_another(scenario: str) -> None:
    first, again, other = (drawn.__wrapped__(named(scenario), seed, False) for seed in (1, 1, 2))
    assert first == again
    assert first[0].water != other[0].water


def test_table_and_plot_name_what_was_run(oracle: Count) -> None:
    runs = [(Job("away", 3, True, "oracle"), oracle)]
    assert line("away", "oracle", runs, runs).startswith("away   oracle")
    drawing = plot({("away", "oracle"): runs}, ["away"], ["oracle"])
    assert drawing.count("<rect") == 2
    assert ">away<" in drawing


def test_the_ablation_takes_away_what_it_says(oracle: Count) -> None:
    blind = run(Job("home", 3, True, "dosectl", days=DAYS, lacks="redox probe"))
    whole = run(Job("home", 3, True, "dosectl", days=DAYS))
    assert blind.inside["90"] > 0.0
    assert blind.chlorine_g < whole.chlorine_g  # the bounded fall-back
    params, believed = LACKS["error of feeder and volume"].params, LACKS["error of feeder and volume"].believed
    pool, owner = drawn(named("home"), 2, True)
    assert believed(params(pool), owner).volume_m3 == pytest.approx(pool.water.volume_m3, abs=0.1)
    assert ablation_line("redox probe", [blind], [50.0]).startswith("redox probe")


def test_a_run_that_is_kept_comes_back_equal_and_for_its_own_job_only(oracle: Count, tmp_path: Path) -> None:
    job = Job("away", 3, True, "oracle", days=DAYS)
    Kept(tmp_path / "runs").add(job, oracle)
    kept = Kept(tmp_path / "runs")
    assert kept.of(job) == oracle
    assert kept.of(replace(job, seed=4)) is None
    assert kept.of(replace(job, tuning=Tuning(gain=0.9))) is None
