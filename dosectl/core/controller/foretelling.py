"""What the estimate foretold for each test by hand, kept until the next one: alarms compare the two."""

from dosectl.core.controller.changes import Changed
from dosectl.core.estimate.late_tests import LATE_S
from dosectl.core.estimate.state import WaterView
from dosectl.core.evidence import SEASON_CLOSED, Standing
from dosectl.model.water_tests import Foretold, Quantity, WaterTest

Z95 = 1.96


def foretold(
    before: tuple[Foretold, ...], changed: Changed, view: WaterView | None, standing: Standing, clock_s: float
) -> tuple[Foretold, ...]:
    """The newest of each quantity; the same object where none was entered.

    view : what was believed before these tests; standing : what stood before this step's requests. A test of older water says
    nothing of the belief of now, and nobody believes anything of a pool that rests or rested until this moment.
    """
    if not changed.added:
        return before
    closed = standing.stop is not None and standing.stop.code == SEASON_CLOSED
    kept = {item.quantity: item for item in before}
    for test in changed.added:
        kept.pop(test.quantity, None)
        if view is not None and not closed and clock_s - test.taken_s <= LATE_S:
            found = _of(test, view)
            if found is not None:
                kept[test.quantity] = found
    return tuple(kept.values())


def _of(test: WaterTest, view: WaterView) -> Foretold | None:
    match test.quantity:
        case Quantity.FREE_CHLORINE:
            bounds = view.free_chlorine_mg_l, view.low95_mg_l, view.high95_mg_l
        case Quantity.PH:
            bounds = view.ph, view.ph - Z95 * view.ph_sigma, view.ph + Z95 * view.ph_sigma
        case _:
            return None
    return Foretold(test.request, test.quantity, *bounds)
