"""Going away and coming back: an end that lies ahead, once; and probes that were calibrated."""

from dataclasses import replace
from datetime import timedelta

import pytest

from dosectl.core.controller.changes import Changed, apply
from dosectl.core.evidence import Standing
from dosectl.core.requests.changes import BeAway, BeBack, Calibrated, Replaced
from dosectl.core.requests.listed import ListedAlarm
from dosectl.core.site import Signal
from dosectl.model.absences import lasting
from dosectl.model.reasons import Code
from dosectl.model.requests import Place
from dosectl.model.signals import SignalId, SignalKind
from tests.requests.asking import SITE, UTC_NOW, VIEW, ask

PROBES = replace(
    SITE, signals=(Signal(SignalId("ph"), SignalKind.PH, 30.0, 10.0), Signal(SignalId("flow"), SignalKind.FLOW, 9.0, 3.0))
)


def test_both_ways_to_say_how_long_mean_the_same() -> None:
    by_days = ask("go_away", days=3.0, place=Place.REMOTE).change
    by_date = ask("go_away", until=(UTC_NOW + timedelta(days=3)).isoformat()).change
    assert by_days == by_date
    assert isinstance(by_days, BeAway)
    assert by_days.absence.until == UTC_NOW + timedelta(days=3)
    assert by_days.absence.until_s == VIEW.clock_s + 3 * 86400.0


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        ({}, "away.one_of"),
        ({"days": 2.0, "until": (UTC_NOW + timedelta(days=3)).isoformat()}, "away.one_of"),
        ({"until": (UTC_NOW - timedelta(hours=1)).isoformat()}, "away.past"),
        ({"until": (UTC_NOW + timedelta(days=121)).isoformat()}, "away.too_long"),
        ({"days": 121.0}, "request.argument"),
        ({"until": "2026-06-09T10:00:00"}, "request.argument"),
    ],
)
def test_a_time_that_means_nothing_changes_nothing(arguments: dict[str, float | str], code: str) -> None:
    judgement = ask("go_away", **arguments)  # type: ignore[arg-type]
    assert (judgement.reply.code, judgement.change) == (code, None)


def test_nobody_goes_while_an_alarm_is_out_of_service() -> None:
    out = ListedAlarm(Code("probe.sample_flow"), 1, True, "medium", 0.0, 0, False, True, True)
    judgement = ask("go_away", replace(VIEW, listed=(out,)), days=3.0)
    assert (judgement.reply.code, judgement.change) == ("away.out", None)


def test_saying_it_again_moves_the_end_and_keeps_the_begin_and_back_ends_it_once() -> None:
    before = Changed(Standing(), (), {})
    first = ask("go_away", days=3.0)
    assert isinstance(first.change, BeAway)
    away = apply(before, first.change)
    later = replace(VIEW, absences=away.absences, clock_s=VIEW.clock_s + 86400.0)
    again = ask("go_away", later, days=5.0)
    assert again.reply.code == "away.changed"
    assert isinstance(again.change, BeAway)
    longer = apply(away, again.change)
    assert len(longer.absences) == 1
    assert longer.absences[0].begun_s == VIEW.clock_s
    back = ask("come_back", replace(later, absences=longer.absences))
    assert isinstance(back.change, BeBack)
    assert dict(back.reply.facts)["days"] == 1.0
    home = apply(longer, back.change)
    assert lasting(home.absences) is None
    assert ask("come_back", replace(later, absences=home.absences)).reply.code == "back.none"
    assert apply(home, back.change) is home, "what comes twice changes nothing"


def test_only_probes_are_calibrated_and_the_newest_time_counts() -> None:
    judgement = ask("calibrated", site=PROBES, probe="ph")
    assert judgement.change == Calibrated(SignalId("ph"), VIEW.clock_s)
    changed = apply(Changed(Standing(calibrated=((SignalId("ph"), 1.0), (SignalId("orp"), 2.0))), (), {}), judgement.change)
    assert dict(changed.standing.calibrated) == {"orp": 2.0, "ph": VIEW.clock_s}
    assert ask("calibrated", site=PROBES, probe="flow").reply.code == "calibrated.none"


def test_a_feeders_part_or_a_probe_is_replaced_and_what_it_had_fed_is_kept() -> None:
    pump = PROBES.feeders[0]
    view = replace(VIEW, fed_g=((pump.id, 1234.0),))
    judgement = ask("replaced", view, site=PROBES, part=str(pump.id))
    assert judgement.change == Replaced(str(pump.id), VIEW.clock_s, 1234.0)
    assert judgement.reply.code == "replaced.done"
    assert ask("replaced", site=PROBES, part="ph").change == Replaced("ph", VIEW.clock_s, 0.0)
    refused = ask("replaced", site=PROBES, part="flow")
    assert (refused.change, refused.reply.code) == (None, "replaced.none")
