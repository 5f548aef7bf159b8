"""An old copy of the record put back beside a node that goes on, once and at each start: what the node's own meter says."""

import pytest

from dosectl.model.feeds import Substance
from tests.closed_loop.sequences import DAY_S, HOUR_S, Sequence

CEILING_MG_L_DAY = 8.0  # typed from the design: no pool is ever let have more
FIRST_MG_L_DAY = 0.6 * 2.4  # of the usual use that the world is given


def put_back(world: Sequence, copy: object) -> None:
    world.loop._kept = copy  # type: ignore[assignment]
    world.loop.restart(clean=True, off_s=40.0)


def lived(world: Sequence, hours: float) -> None:
    until_s = world.loop.elapsed_s + hours * HOUR_S
    while world.loop.elapsed_s < until_s:
        world.loop.one()


def fed_mg_l(world: Sequence, substance: Substance, from_s: float, to_s: float) -> float:
    """What the node fed between two moments, by its own meter."""
    sites = {name: feeder for name, feeder in world.sites.items() if feeder.substance is substance}
    runs = ((max(0.0, min(b, to_s) - max(a, from_s)) * lv, who) for who, a, b, lv in world.plant.runs if who in sites)
    return sum(on_s * sites[who].rate_g_s for on_s, who in runs) / world.loop.plan.site.pool.volume_m3


def shortest_feed_s(world: Sequence, from_s: float) -> float:
    """The shortest time without a break that a chlorine feeder was on."""
    feeds: list[list[float]] = []
    for name, begin, end, _ in world.plant.runs:
        if name == "acid" or begin < from_s:
            continue
        if feeds and begin - feeds[-1][1] < 1e-6:
            feeds[-1][1] = end
        else:
            feeds.append([begin, end])
    return min(end - begin for begin, end in feeds)


def objecting(world: Sequence) -> set[str]:
    assert world.loop.last is not None
    return {str(verdict.guard) for verdicts in world.loop.last.objections.values() for verdict in verdicts}


def gap_found(hypochlorite: bool) -> tuple[Sequence, object]:
    """A world whose record has gone back to the same copy until a gap was found, and that copy."""
    world = Sequence(8, hypochlorite)
    lived(world, 1.0 / 3.0)
    copy = world.loop._kept
    for _ in range(3):  # the first of few commands is within what a crash may lose
        lived(world, 3.0)
        put_back(world, copy)
        lived(world, 0.1)
        if "record.gap" in objecting(world):
            return world, copy
    raise AssertionError("no gap was found")


@pytest.mark.parametrize("hypochlorite", [False, True])
def test_in_the_day_after_a_gap_nearly_all_of_the_fall_backs_rate_is_fed_and_no_acid(hypochlorite: bool) -> None:
    world, _ = gap_found(hypochlorite)
    from_s = world.loop.elapsed_s
    lived(world, 23.9)
    fed = fed_mg_l(world, Substance.CHLORINE, from_s, from_s + DAY_S)
    assert 0.9 * FIRST_MG_L_DAY < fed <= FIRST_MG_L_DAY
    assert shortest_feed_s(world, from_s) > 30.0
    lived(world, 3.0)
    assert fed_mg_l(world, Substance.CHLORINE, from_s + DAY_S, from_s + 1.2 * DAY_S) > 0.5  # the hold of chlorine is over
    world.loop.restart(off_s=600.0)
    lived(world, 3.0)
    assert "record.gap" in objecting(world)
    assert fed_mg_l(world, Substance.ACID, from_s, world.loop.elapsed_s) == 0.0
    for quantity in ("ph", "alkalinity"):
        world.loop.water_test(quantity)
    lived(world, 2.0)
    assert "record.gap" not in objecting(world)


@pytest.mark.parametrize("hypochlorite", [False, True])
def test_a_record_that_goes_back_at_each_start_gets_no_days_amount_anew(hypochlorite: bool) -> None:
    """As where the file system forgets at each boot, here each three hours, and the ORP asks for chlorine all the time."""
    world, copy = gap_found(hypochlorite)
    world.loop.set_fault("orp_stuck", True)
    from_s = world.loop.elapsed_s
    for _ in range(8):
        lived(world, 2.9)
        put_back(world, copy)
    fed = fed_mg_l(world, Substance.CHLORINE, from_s, world.loop.elapsed_s)
    assert 0.5 * FIRST_MG_L_DAY < fed <= FIRST_MG_L_DAY
    assert fed_mg_l(world, Substance.CHLORINE, world.loop.elapsed_s - DAY_S, world.loop.elapsed_s) < 0.5 * CEILING_MG_L_DAY
    assert fed_mg_l(world, Substance.ACID, from_s, world.loop.elapsed_s) == 0.0
