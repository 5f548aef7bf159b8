"""Feeds under limits that leave little: neither gram by gram nor starved."""

import pytest

from dosectl.core.site import Feeder
from dosectl.model.ledger import Debit
from dosectl.model.reasons import Code, Reason
from dosectl.model.verdicts import Limit
from tests.control.closed_loop import evidence
from tests.control.wished import CELL, Run, limited_to
from tests.estimate.toy_pool import VOLUME_M3, cell, chlorine_pump


def test_a_limit_that_always_leaves_little_is_used_all_the_same_with_time_between() -> None:
    run = Run(cell(75.0), free_chlorine_mg_l=1.0)  # the least feed of so large a cell is half a mg/L
    run.limits = limited_to(run, 0.1)
    run.run(12.0)
    starts = run.stretches(CELL)
    assert 4 <= len(starts) <= 8
    assert all(off_s >= 3600.0 for _, off_s in starts[1:])


def test_a_window_that_is_used_up_is_not_fed_into_gram_by_gram() -> None:
    run = Run(cell(75.0), free_chlorine_mg_l=1.0)
    run.limits = limited_to(run, 0.002)
    run.run(12.0)
    assert run.fed_mg_l(CELL) == 0.0
    assert run.why(CELL) == "control.waits_for_room"


@pytest.mark.parametrize("feeder", [cell(75.0), chlorine_pump()], ids=["cell", "pump"])
def test_a_feed_that_a_limit_cut_short_does_not_go_on_gram_by_gram(feeder: Feeder) -> None:
    run = Run(feeder, free_chlorine_mg_l=1.0)
    left_g, starts, fed = 0.3 * VOLUME_M3, 0, False
    minute_g = 60.0 * feeder.rate_g_s
    why = Reason(Code("x"), (), evidence(run.plant, run.pool).now)
    for _ in range(8 * 60):
        run.limits = ((feeder.id, (Limit(Code("mass.hour"), left_g, why),)),)
        wished = run.step()
        left_g += 0.003 * VOLUME_M3  # 0.18 mg/L an hour, set free minute by minute: less than is wanted
        # As the arbiter: what the limit leaves, and nothing where it leaves less than a second's feed.
        mass_g = min(wished[0].mass_g, left_g, minute_g) if wished and left_g >= feeder.rate_g_s else 0.0
        starts += mass_g > 0.0 and not fed
        fed = mass_g >= minute_g
        left_g -= mass_g
        if not fed:
            run.wished = ()
        if 0.0 < mass_g < minute_g:  # over before the minute was: at its end nothing is granted any more
            debit = Debit(run.ledger.next_no, feeder.id, run.pool.now_s, run.pool.now_s, mass_g)
            book = run.ledger.of(feeder.id)
            run.ledger = run.ledger.with_feeder(book.with_open(debit).closed(run.pool.now_s, mass_g))
    assert starts <= 24
    assert left_g < 0.25 * (0.3 + 0.003 * 480) * VOLUME_M3  # and what the limit leaves gets used
