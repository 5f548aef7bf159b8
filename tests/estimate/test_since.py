"""A test of alkalinity or pH that is typed in late is of the water before what was poured in, or fed, since it was taken."""

from dataclasses import dataclass, field

import pytest

from dosectl.core.estimate.begin import start
from dosectl.core.estimate.filter import update
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import Estimate, EstimateInputs
from dosectl.core.estimate.view import water
from dosectl.core.requests.changes import HandAddition
from dosectl.model.feeds import Substance
from dosectl.model.requests import RequestId
from dosectl.model.water_tests import Quantity, WaterTest
from tests.requests.asking import SITE, UTC_NOW

PARAMS = EstimateParams()
MINUTE_S = 60.0


@dataclass
class Pool:
    """Watched each minute; the pH probe reads right. at_min : as of the last minute [min]"""

    ph: float = 7.5
    at_min: int = 0
    est: Estimate = field(default_factory=lambda: start(SITE, PARAMS, clock_s=0.0))

    def minute(self, *entries: WaterTest | HandAddition, acid_mg_l: float = 0.0) -> None:
        self.at_min += 1
        tests = tuple(entry for entry in entries if isinstance(entry, WaterTest))
        poured = tuple(entry for entry in entries if isinstance(entry, HandAddition))
        fed = ((Substance.ACID, acid_mg_l),) if acid_mg_l > 0.0 else ()
        now = EstimateInputs(
            MINUTE_S * self.at_min, UTC_NOW, MINUTE_S, None, self.ph, 0.05, 25.0, 3600.0, fed, tests, None, poured
        )  # fmt: skip
        self.est = update(SITE, PARAMS, self.est, now)

    def until(self, minute: int) -> "Pool":
        while self.at_min < minute:
            self.minute()
        return self

    def test(self, quantity: Quantity, value: float, sigma: float, taken_min: float) -> WaterTest:
        taken_s, entered_s = MINUTE_S * taken_min, MINUTE_S * (self.at_min + 1)
        return WaterTest(RequestId("t"), quantity, value, sigma, "drops", UTC_NOW, taken_s, entered_s, "anna")

    @property
    def alkalinity_mg_l(self) -> float:
        return water(SITE, self.est).alkalinity_mg_l


def bicarbonate(at_min: float, mg_l: float) -> HandAddition:
    return HandAddition(RequestId("b"), MINUTE_S * at_min, "anna", "bicarbonate", 0.0, mg_l, 0.0)


def in_time(added_mg_l: float) -> Pool:
    """60 found at minute 300 and typed at once; at 310 something is put in that moves it."""
    pool = Pool().until(299)
    pool.minute(pool.test(Quantity.ALKALINITY, 60.0, 6.0, 300))
    pool.until(309)
    pool.minute(bicarbonate(310, added_mg_l))
    return pool


@pytest.mark.parametrize("typed_min", [312, 330, 480, 1200])
@pytest.mark.parametrize("entered_min", [310, 340])
def test_bicarbonate_put_in_after_a_test_is_counted_on_top_of_it(typed_min: int, entered_min: int) -> None:
    """60 found, 40 put in: 61 was believed at 100."""
    late = Pool().until(309)
    for minute in range(310, 1201):
        entries: list[WaterTest | HandAddition] = []
        if minute == entered_min:
            entries.append(bicarbonate(310, 40.0))
        if minute == typed_min:
            entries.append(late.test(Quantity.ALKALINITY, 60.0, 6.0, 300))
        late.minute(*entries)
    assert late.alkalinity_mg_l == pytest.approx(100.0, abs=8.0)
    if entered_min < typed_min:  # else the doubt is of the pour alone, as in time
        assert late.alkalinity_mg_l == pytest.approx(in_time(40.0).until(1200).alkalinity_mg_l, abs=4.0)


def test_what_was_put_in_before_a_test_is_not_counted_on_top_of_it_by_a_late_test() -> None:
    pool = Pool().until(309)
    pool.minute(bicarbonate(310, 40.0))
    pool.until(400)
    pool.minute(pool.test(Quantity.ALKALINITY, 100.0, 6.0, 330))
    assert pool.alkalinity_mg_l == pytest.approx(100.0, abs=8.0)


def test_acid_fed_since_a_test_is_taken_off_it() -> None:
    """90 found, 20 fed off in the four hours after it, in pulses."""
    pool = Pool().until(300)
    for minute in range(240):
        pool.minute(acid_mg_l=1.0 if minute % 12 == 6 else 0.0)
    pool.minute(pool.test(Quantity.ALKALINITY, 90.0, 4.0, 300))
    assert pool.alkalinity_mg_l == pytest.approx(70.0, abs=3.0)


def test_a_test_of_ph_from_before_the_water_went_sour_makes_no_offset_of_a_right_probe() -> None:
    """7.8 found and read, then acid fed to 7.5, which the probe shows: the old test made the probe 0.12 off.

    A kit's figures are a tenth apart, so half of that is no error that anybody could see.
    """
    for before, after in ((7.8, 7.5), (8.0, 7.5)):
        pool = Pool(before).until(330)
        pool.ph = after
        pool.until(800)
        pool.minute(pool.test(Quantity.PH, before, 0.1, 330))
        assert pool.est.ph[1] == pytest.approx(0.0, abs=0.05)
        assert pool.est.ph[0] == pytest.approx(after, abs=0.05)


def test_a_late_test_of_ph_in_water_that_stood_still_teaches_the_offset_as_in_time() -> None:
    late, prompt = Pool(7.5).until(330), Pool(7.5).until(329)
    prompt.minute(prompt.test(Quantity.PH, 7.2, 0.1, 330))
    prompt.until(500)
    late.until(499)
    late.minute(late.test(Quantity.PH, 7.2, 0.1, 330))
    assert prompt.est.ph[1] > 0.1
    assert late.est.ph[1] == pytest.approx(prompt.est.ph[1], rel=0.15)
