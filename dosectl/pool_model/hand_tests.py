"""Water tests by hand: what each method makes of the true water.

Errors are common practice (no comparison in a reviewed paper was found): a constant bias of this tester with this kit, a
scatter from test to test, and the steps of the scale. A colour test bleaches at high chlorine and then reads low.
"""

from dataclasses import dataclass
from random import Random

from dosectl.model.water_tests import Quantity
from dosectl.pool_model.water import Water


@dataclass(frozen=True, slots=True)
class Method:
    """Errors of one method for one quantity.

    absolute, relative : standard scatter, added in quadrature; bias : standard size of the tester's constant error
    step : of the scale; highest : what the scale ends at; bleaches_at : colour fades above it
    """

    absolute: float
    relative: float
    step: float
    bias: float = 0.0
    highest: float = 1e9
    bleaches_at: float | None = None


METHODS: dict[tuple[Quantity, str], Method] = {
    (Quantity.FREE_CHLORINE, "drops"): Method(0.05, 0.03, 0.2, bias=0.05),
    (Quantity.FREE_CHLORINE, "photometer"): Method(0.08, 0.06, 0.01, bias=0.08, bleaches_at=10.0),
    (Quantity.FREE_CHLORINE, "strips"): Method(0.3, 0.25, 0.5, bias=0.3, highest=10.0),
    (Quantity.COMBINED_CHLORINE, "drops"): Method(0.05, 0.05, 0.2),
    (Quantity.COMBINED_CHLORINE, "photometer"): Method(0.08, 0.1, 0.01),
    (Quantity.PH, "drops"): Method(0.1, 0.0, 0.1, bias=0.05),
    (Quantity.PH, "photometer"): Method(0.06, 0.0, 0.01, bias=0.05),
    (Quantity.PH, "strips"): Method(0.2, 0.0, 0.2, bias=0.15),
    (Quantity.ALKALINITY, "drops"): Method(3.0, 0.03, 10.0, bias=3.0),
    (Quantity.ALKALINITY, "photometer"): Method(6.0, 0.05, 1.0, bias=4.0),
    (Quantity.ALKALINITY, "strips"): Method(15.0, 0.15, 40.0, bias=12.0),
    (Quantity.STABILISER, "turbidity"): Method(6.0, 0.08, 5.0, bias=6.0, highest=100.0),
    (Quantity.STABILISER, "photometer"): Method(5.0, 0.08, 1.0, bias=5.0, highest=160.0),
    (Quantity.STABILISER, "strips"): Method(15.0, 0.3, 20.0, bias=12.0, highest=300.0),
    (Quantity.SALT, "drops"): Method(0.05, 0.03, 0.2),
    (Quantity.SALT, "meter"): Method(0.05, 0.03, 0.01, bias=0.1),
    (Quantity.WATER_TEMP, "meter"): Method(0.2, 0.0, 0.1, bias=0.2),
}


def _true_value(quantity: Quantity, water: Water) -> float:
    return {
        Quantity.FREE_CHLORINE: water.chlorine_mg_l,
        Quantity.COMBINED_CHLORINE: water.combined_mg_l,
        Quantity.PH: water.ph,
        Quantity.ALKALINITY: water.alkalinity_mg_l,
        Quantity.STABILISER: water.cya_mg_l,
        Quantity.SALT: water.salt_g_l,
        Quantity.WATER_TEMP: water.temp_c,
    }[quantity]


class Tester:
    """One person with their kits: the bias of each method is drawn once and stays."""

    def __init__(self, rng: Random) -> None:
        self._rng = rng
        self._bias = {key: rng.gauss(0.0, method.bias) for key, method in METHODS.items()}

    def measure(self, quantity: str, method: str, water: Water) -> float:
        """The result the person reads off, never negative. Raises KeyError where no such method measures the quantity."""
        key = (Quantity(quantity), method) if quantity in set(Quantity) else None
        kit = METHODS.get(key) if key else None
        if key is None or kit is None:
            known = ", ".join(f"{q} by {m}" for q, m in METHODS)
            raise KeyError(f"{quantity!r} by {method!r} cannot be measured; known are: {known}")
        true = _true_value(key[0], water)
        scatter = (kit.absolute**2 + (kit.relative * true) ** 2) ** 0.5
        seen = true + self._bias[key] + self._rng.gauss(0.0, scatter)
        if kit.bleaches_at is not None and true > kit.bleaches_at:
            seen = max(0.0, seen * (1.0 - (true - kit.bleaches_at) / kit.bleaches_at))
        return round(min(kit.highest, max(0.0, round(seen / kit.step) * kit.step)), 4)
