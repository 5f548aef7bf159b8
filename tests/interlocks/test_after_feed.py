"""What a probe shows after a feed: when a look begins, when it ends, and what spoils it."""

from dataclasses import replace

import pytest

from dosectl.core.interlocks.after_feed import followed, spoilt
from dosectl.core.interlocks.guard import FRESH
from dosectl.model.signals import SignalId, Status
from tests.builders import ACID, a_ledger, a_reading, a_site, an_evidence, later, with_flow, with_reading, with_value

SITE = a_site()
PH = SignalId("ph")


class Looks:
    """A pool with a feed of 0.5 mg/L at each of some minutes; a pH that falls by 0.01 a minute after the first.

    last_flow_min : the last minute of flow before a rest, for good where none is given; pause_s : the rest that is allowed for
    """

    def __init__(self, feeds, minutes, first_flow_min=None, status=Status.GOOD, last_flow_min=None, rest_min=999, pause_s=0.0):
        evidence, memory, entries, self.seen = an_evidence(SITE), FRESH, [], []
        self.values = []
        if first_flow_min is not None:
            evidence = with_flow(with_flow(evidence, pump=False, flow=False), pump=True, flow=True, since_s=evidence.clock_s)
        for minute in range(1, minutes + 1):
            evidence = later(evidence, 60.0)
            if last_flow_min is not None and minute == last_flow_min + 1:
                evidence = with_flow(evidence, pump=False, flow=False)
                flow_s = evidence.flow.clock_s - 60.0
                evidence = replace(evidence, flow=replace(evidence.flow, clock_s=flow_s))
            if last_flow_min is not None and minute == last_flow_min + rest_min + 1:
                evidence = with_flow(evidence, pump=True, flow=True, since_s=evidence.clock_s - 60.0)
            if minute in feeds:
                entries.append((evidence.clock_s, 0.5 * SITE.pool.volume_m3))
            ph = 7.6 - 0.01 * max(0, minute - feeds[0])
            shown = with_value(evidence, "ph", ph)
            if status is not Status.GOOD:
                shown = with_reading(shown, a_reading("ph", ph, status, at_s=evidence.clock_s))
            shown = replace(shown, ledger=a_ledger(SITE, {ACID: tuple(entries)} if entries else None))
            memory, response = followed(memory, shown, (ACID,), PH, 0.3, pause_s)
            self.values.append(memory.recent)
            if response is not None:
                self.seen.append((minute, response))


def test_a_feed_is_judged_after_an_hour_of_flow():
    ((minute, response),) = Looks([10], 80).seen
    assert minute == 70
    assert response.mass_mg_l == pytest.approx(0.5)
    assert response.flow_h == pytest.approx(1.0)
    assert response.change == pytest.approx(-0.55, abs=0.03)


@pytest.mark.parametrize(("apart", "looks"), [(24, 1), (25, 2), (40, 2)])
def test_a_feed_that_the_next_one_follows_within_twenty_five_minutes_says_nothing(apart, looks):
    found = Looks([10, 10 + apart], 110).seen
    assert len(found) == looks
    assert found[-1][0] == 70 + apart
    if looks == 2:
        assert found[0][1].flow_h == pytest.approx(apart / 60.0)


def test_nothing_is_taken_in_before_flow_has_settled_for_five_minutes():
    values = Looks([10], 12, first_flow_min=0).values
    assert [bool(recent) for recent in values[:6]] == [False] * 4 + [True] * 2


def test_a_reading_that_is_out_of_its_specification_is_followed_no_more():
    assert Looks([10], 80, status=Status.OUT_OF_SPEC).seen == []
    assert len(Looks([10], 80, status=Status.MAINTENANCE).seen) == 1


@pytest.mark.parametrize(("minutes", "looks"), [(24, 0), (25, 1), (45, 1)])
def test_a_feed_that_the_end_of_the_flow_follows_is_judged_then(minutes, looks):
    """A pump on an hourly timer never runs for an hour after a feed: no guard ever saw what acid does there."""
    found = Looks([10], 60, last_flow_min=10 + minutes).seen
    assert [minute for minute, _ in found] == [10 + minutes + 1] * looks
    if looks:
        assert found[0][1].flow_h == pytest.approx(minutes / 60.0)
        assert found[0][1].change == pytest.approx(-0.01 * minutes, abs=0.06)
        assert found[0][1].cut


@pytest.mark.parametrize("rest_min", [15, 100])
def test_a_feed_is_followed_on_in_the_next_run_where_the_pause_is_allowed_for(rest_min):
    """Judged at the end of a short run, half of what a slow electrode would show counted for all."""
    ((minute, response),) = Looks([10], 220, last_flow_min=30, rest_min=rest_min, pause_s=7200.0).seen
    assert minute == pytest.approx(30 + rest_min + 40, abs=1)
    assert response.flow_h == pytest.approx(1.0, abs=0.02)
    assert response.hours == pytest.approx(1.0 + rest_min / 60.0, abs=0.05)
    assert response.change == pytest.approx(-0.01 * (60 + rest_min), abs=0.06)
    assert not response.cut


def test_a_feed_is_judged_as_of_the_stop_where_the_pause_is_longer():
    ((minute, response),) = Looks([10], 300, last_flow_min=45, rest_min=180, pause_s=7200.0).seen
    assert minute == pytest.approx(45 + 120, abs=2)
    assert response.flow_h == pytest.approx(35 / 60, abs=0.02)
    assert response.hours == pytest.approx(35 / 60, abs=0.05)
    assert response.cut


@pytest.mark.parametrize(("added_min", "spoils"), [(-115, True), (-125, False), (5, True), (60, True)])
def test_what_is_put_in_by_hand_from_two_hours_before_a_feed_on_spoils_its_look(added_min, spoils):
    ((_, response),) = Looks([10], 220, last_flow_min=30, rest_min=100, pause_s=7200.0).seen
    evidence = an_evidence(SITE)
    added = replace(evidence.standing, added_s=evidence.clock_s + 60.0 * (10 + added_min))
    assert spoilt(replace(later(evidence, 170 * 60.0), standing=added), response) is spoils
