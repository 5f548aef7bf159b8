"""What is fed brings too little: called when that is sure, and before the water is lost."""

from dataclasses import replace

from dosectl.core.alarms import weak
from dosectl.core.interlocks.guards import mass_day
from dosectl.model.feeds import Substance
from tests.alarms.faults import SITE, Bounds, Run, healthy, names
from tests.builders import CLOCK_S

HOURS = 7.0 * 3600.0


def raised(water: Bounds) -> bool:
    run = Run(healthy())
    return ("feed.weak", "raised") in names([*run.look(water=water), *run.stay(HOURS, 600.0, water=water)])


def test_what_brings_half_of_its_label_for_sure_is_called() -> None:
    assert raised(Bounds(arrives=0.5, arrives_log_sigma=0.1))


def test_a_guess_or_a_usual_error_of_volume_and_output_is_not() -> None:
    assert not raised(Bounds(arrives=0.6, arrives_log_sigma=0.3))
    assert not raised(Bounds(arrives=0.75, arrives_log_sigma=0.05))
    assert not raised(Bounds())


def test_it_names_the_feeder_and_the_share() -> None:
    run = Run(healthy())
    water = Bounds(arrives=0.5)
    run.look(water=water)
    changes = run.stay(HOURS, 600.0, water=water)
    why = next(c.why for c in changes if c.code == "feed.weak")
    assert why is not None
    assert dict(why.facts)["percent"] == 50
    assert dict(why.facts)["feeder"] == "cell"


def test_fresh_product_ends_it() -> None:
    run = Run(healthy())
    water = Bounds(arrives=0.5)
    run.look(water=water)
    run.stay(HOURS, 600.0, water=water)
    assert ("feed.weak", "cleared") in names(run.stay(2.0 * 3600.0, 600.0, water=replace(water, arrives=0.9)))


def test_a_pool_that_usually_takes_more_by_the_label_than_a_day_may_be_fed_is_called() -> None:
    evidence = healthy()
    for usual, called in ((11.0, True), (7.5, False)):
        standing = replace(evidence.standing, daily_use_mg_l=((Substance.CHLORINE, (usual,) * 14),))
        run = Run(replace(evidence, standing=standing))
        assert (("feed.weak", "raised") in names([*run.look(), *run.stay(HOURS, 600.0)])) is called


def test_days_before_a_refill_say_nothing_of_the_fresh_product() -> None:
    evidence = healthy()
    use = ((Substance.CHLORINE, (11.0,) * 14),)
    filled = ((SITE.feeding(Substance.CHLORINE)[0], CLOCK_S - 3600.0, 20_000.0),)
    run = Run(replace(evidence, standing=replace(evidence.standing, daily_use_mg_l=use, refills=filled)))
    assert ("feed.weak", "raised") not in names([*run.look(), *run.stay(HOURS, 600.0)])


def test_in_a_pool_below_its_band_the_likelier_half_of_the_chances_will_do() -> None:
    low, held = {"low95_mg_l": 1.2, "high95_mg_l": 2.6}, {"low95_mg_l": 2.5, "high95_mg_l": 3.5}
    assert raised(Bounds(arrives=0.65, arrives_log_sigma=0.2, **low))
    assert not raised(Bounds(arrives=0.65, arrives_log_sigma=0.2, **held))
    assert not raised(Bounds(arrives=0.9, arrives_log_sigma=0.2, **low))


def test_its_ceiling_is_that_of_the_guard() -> None:
    """Two rooms that may not import each other."""
    assert weak.CEILING_MG_L == mass_day.CHLORINE_MG_L_CEILING


def test_a_cell_that_gives_less_in_cold_water_as_its_settings_say_is_not() -> None:
    """It would call all spring, of something that no descaling mends."""
    evidence = healthy()
    cells = tuple(replace(f, full_from_c=15.0) if f.kind == "cell" else f for f in SITE.feeders)
    evidence = replace(evidence, site=replace(evidence.site, feeders=cells))
    for arrives, called in ((1.0, False), (0.5, True)):
        run, water = Run(evidence), Bounds(arrives=arrives, temp_c=11.0)
        assert (("feed.weak", "raised") in names([*run.look(water=water), *run.stay(HOURS, 600.0, water=water)])) is called
