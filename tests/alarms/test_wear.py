"""Hours of tubes and cells, the age of probes, and that they count from zero once a part is entered as new."""

from dataclasses import replace

import pytest

from dosectl.core.alarms import AlarmParams
from dosectl.core.alarms.wear import Part, parts
from dosectl.core.controller.changes import Changed, apply
from dosectl.core.evidence import Standing
from dosectl.core.requests.changes import Replaced
from tests.alarms.faults import SITE, Run, healthy, names, worn
from tests.builders import ACID, CELL, CLOCK_S, a_ledger

PARAMS = AlarmParams()
HOUR_G = 3600.0 * SITE.feeder(CELL).rate_g_s


def of(found: tuple[Part, ...], name: str) -> Part:
    return next(part for part in found if part.name == name)


def test_hours_are_mass_over_the_rate_at_full_output_and_a_probe_counts_days() -> None:
    ledger = a_ledger(SITE, {CELL: ((CLOCK_S - 10.0, 120.0 * HOUR_G),)})
    standing = Standing(replaced=(("ph", CLOCK_S - 10.0 * 86400.0, 0.0),))
    found = parts(SITE, standing, ledger, CLOCK_S, PARAMS)
    assert (of(found, str(CELL)).what, of(found, str(CELL)).used) == ("cell", pytest.approx(120.0))
    assert (of(found, str(ACID)).what, of(found, str(ACID)).used) == ("tube", 0.0)
    assert (of(found, "ph").what, of(found, "ph").used, of(found, "ph").unit) == ("probe", pytest.approx(10.0), "days")
    assert {part.what for part in found} == {"cell", "tube", "probe"}


def test_a_part_is_worn_by_its_own_measure_and_new_when_that_is_entered() -> None:
    run = Run(worn(healthy()))
    assert ("upkeep.part_worn", "raised") in names(run.look())
    reason = run.alarm("upkeep.part_worn").why
    assert reason is not None
    assert dict(reason.facts) == {"part": str(CELL), "what": "cell", "used": 8001, "lasts": 8000.0}
    total_g = run.evidence.ledger.of(CELL).total_g
    changed = apply(Changed(run.evidence.standing, (), {}), Replaced(str(CELL), CLOCK_S, total_g))
    run.evidence = replace(run.evidence, standing=changed.standing)
    assert ("upkeep.part_worn", "cleared") in names(run.look())
    again = apply(changed, Replaced(str(CELL), CLOCK_S + 1.0, total_g + 1.0))
    assert again.standing.replaced == ((str(CELL), CLOCK_S + 1.0, total_g + 1.0),)


def test_a_probe_is_worn_by_its_age() -> None:
    late = 541.0 * 86400.0
    found = parts(SITE, Standing(), healthy().ledger, late, PARAMS)
    assert of(found, "orp").worn
    assert not of(parts(SITE, Standing(replaced=(("orp", late - 86400.0, 0.0),)), healthy().ledger, late, PARAMS), "orp").worn
