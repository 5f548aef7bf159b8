"""`dosectl guards`: each interlock is listed with its verdict, evidence and last trip, and one that is off is said to be off."""

from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from dosectl.cli.guards import LACKING, Row, rows, told
from dosectl.core.interlocks.registry import KINDS
from dosectl.daemon.view import view_of
from dosectl.daemon.wiring import ANSWERED_BY_WATER
from dosectl.model.reasons import Code
from dosectl.model.signals import SignalKind
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.loop import ClosedLoop, demo_loaded
from dosectl.store.entry import JournalEntry
from dosectl.store.journal import Journal
from dosectl.store.read import Record
from dosectl.texts.render import Texts
from tests.builders import a_signal

LOADED = demo_loaded()


class Pool:
    """An hour of flow, a minute without, and what the daemon would show and have on record."""

    def __init__(self, folder: Path, lost: bool, dry_run: bool = False) -> None:
        self.loop = ClosedLoop.of(LOADED, PoolPlant(quince_house(), QUINCE_HOUSE_START, 1), step_s=10.0, use_mg_l_day=2.4)
        self.path = folder / "record"
        journal = Journal.open(self.path)
        for number in range(1, 480):
            if lost and number == 400:
                self.loop.plant.set_fault("flow_lost", True)
            moment = self.loop.one()
            at = moment.decision.evidence.now
            journal.commit(JournalEntry(number, at.utc, at.mono_s, events=moment.decision.events), durable_now=True)
        journal.close()
        guards = sorted({str(guard.code) for guard in self.loop.plan.guards})
        extra: dict[str, Any] = {
            "dry_run": dry_run,
            "guards": [code for code in guards if not (dry_run and code.startswith(ANSWERED_BY_WATER))],
            "bus": {"alive": True},
            "journal": {"ok": True, "error": None},
            "changes": [],
        }
        texts = Texts("Europe/Rome")
        self.view = view_of(self.loop.plan.site, texts, moment.state, moment.decision, extra)
        self.now = moment.truth.utc

    def rows(self) -> dict[str, Row]:
        with Record(self.path) as record:
            found = rows(LOADED, self.view, record.trips(self.now - timedelta(days=30)))
        assert len({row.guard for row in found}) == len(found)
        return {row.guard: row for row in found}


@pytest.fixture(scope="module")
def without_flow(tmp_path_factory: pytest.TempPathFactory) -> Pool:
    return Pool(tmp_path_factory.mktemp("lost"), lost=True)


def test_a_guard_that_denies_shows_its_reason_and_when_it_tripped(without_flow: Pool) -> None:
    row = without_flow.rows()["flow.proven"]
    assert row.verdict == "denies"
    assert "water flow" in row.evidence.lower()
    assert "flow.unproven" in row.tripped
    assert row.trips >= 1
    assert row.proof == "3 flow, wired"


def test_a_guard_that_permits_shows_the_evidence_it_permits_on(without_flow: Pool) -> None:
    found = without_flow.rows()
    assert found["probe.ph"].verdict == "permits"
    assert found["probe.ph"].evidence.startswith("ph 7.")
    assert "record holds" in found["record.store"].evidence
    assert "cell asked off and is off" in found["lockout.both"].evidence
    assert "mg/L in 1 h" in found["mass.day"].evidence
    assert found["flow.honesty"].tripped == ""


def test_every_kind_is_listed_and_those_without_evidence_are_off_and_say_why(without_flow: Pool) -> None:
    found = without_flow.rows()
    off = {name: row.evidence for name, row in found.items() if row.verdict == "off"}
    assert set(off) == {
        "water.path", "probe.sample", "probe.agreement", "high.chlorine", "cell.power", "cover.closed",
    }  # fmt: skip
    assert all(why.strip() and why != "nothing here feeds it evidence" for why in off.values())
    listed = set(found)
    for kind in KINDS:
        alike = {"cold.water": {"cold.cell"}}.get(str(kind.code), set())
        assert any(name == kind.code or name.startswith(f"{kind.code}.") or name in alike for name in listed), kind.code


def test_a_guard_that_is_off_says_whether_the_settings_know_of_it(without_flow: Pool) -> None:
    assert "the settings say that the pool does without" in without_flow.rows()["water.path"].evidence
    unnamed = replace(LOADED, site=replace(LOADED.site, pool=replace(LOADED.site.pool, without=())))
    found = {row.guard: row for row in rows(unnamed, without_flow.view, {})}
    assert "an alarm" in found["water.path"].evidence


def test_a_cover_without_its_signal_is_an_alarm_whatever_the_settings_say_of_doing_without(
    without_flow: Pool,
) -> None:
    covered = replace(LOADED, site=replace(LOADED.site, pool=replace(LOADED.site.pool, covered=True)))
    found = {row.guard: row for row in rows(covered, without_flow.view, {})}
    assert found["cover.closed"].evidence.endswith("an alarm, as this plant should have it")


def test_a_file_that_lost_a_signal_while_the_daemon_runs_with_it_is_listed_all_the_same(without_flow: Pool) -> None:
    view = {**without_flow.view, "guards": [*without_flow.view["guards"], "probe.sample"]}
    assert "probe.sample" in {row.guard for row in rows(LOADED, view, {})}


def test_a_guard_that_judges_a_part_of_the_plant_only_is_off_in_that_part_and_says_what_it_lacks(without_flow: Pool) -> None:
    site = LOADED.site
    feeders = (replace(site.feeders[0], feedback=None), replace(site.feeders[1], level=None))
    more = (a_signal(SignalKind.CELL_VOLTAGE, feeder=site.feeders[0].id),)
    lacking = replace(LOADED, site=replace(site, feeders=feeders, signals=(*site.signals, *more)))
    view = {**without_flow.view, "guards": [*without_flow.view["guards"], "cell.power"]}
    found = {row.guard: row for row in rows(lacking, view, {})}
    assert {name for name in found if name.endswith("(in part)")} == {f"{code} (in part)" for code in LACKING}
    for code, lacks in LACKING.items():
        row = found[f"{code} (in part)"]
        assert (row.verdict, row.evidence) == ("off", lacks)


def test_after_a_trip_it_says_since_when_it_permits_again(tmp_path: Path) -> None:
    row = Pool(tmp_path, lost=False).rows()["start.hold"]
    assert row.verdict == "permits"
    assert row.tripped
    assert row.ended


def test_guards_left_out_of_a_dry_run_are_off(tmp_path: Path) -> None:
    found = Pool(tmp_path, lost=False, dry_run=True).rows()
    for code in ANSWERED_BY_WATER:
        assert found[code].verdict == "off"
        assert "dry run" in found[code].evidence


def test_a_guard_that_the_daemon_does_not_run_is_off_whatever_the_file_says(without_flow: Pool) -> None:
    view = {**without_flow.view, "guards": [code for code in without_flow.view["guards"] if code != "mass.day"]}
    found = {row.guard: row for row in rows(LOADED, view, {})}
    assert found["mass.day"].verdict == "off"
    assert Code("mass.day") not in view["guards"]


def proven(pool: Pool, proofs: list[dict[str, Any]]) -> dict[str, str]:
    found = rows(LOADED, {**pool.view, "proofs": proofs}, {})
    return {row.guard: row.proven for row in found}


def test_each_guard_tells_when_its_proof_step_was_last_recorded_for_every_feeder_it_binds(without_flow: Pool) -> None:
    def record(feeder: str, day: str) -> dict[str, Any]:
        return {"feeder": feeder, "attested": True, "simulated": False, "by": "owner", "at_utc": f"{day}T10:00:00+00:00"}

    both = proven(without_flow, [record("cell", "2026-05-02"), record("acid", "2026-04-20")])
    assert both["flow.proven"] == "2026-04-20, attested"  # the older of the two: only that covers both
    assert both["cover.closed"] == "off"
    only_cell = proven(without_flow, [record("cell", "2026-05-02")])
    assert only_cell["flow.proven"] == "never for acid"
    assert only_cell["change.unfed.ph"] == "never for acid"  # a cell is not asked about a siphon
    assert both["messages.order"] == "no record is kept of this step"


def test_a_simulated_record_is_not_shown_as_a_proof_of_the_plant(without_flow: Pool) -> None:
    assert without_flow.rows()["flow.proven"].proven.endswith("simulated")


@pytest.mark.parametrize(("verdict", "says"), [("denies", False), ("latched", False), ("permits", True), ("limits", True)])
def test_what_denies_now_is_not_said_to_permit(verdict: str, says: bool) -> None:
    row = Row("flow.proven", verdict, "flow 0", "11 Jul 09:32", 2, "11 Jul 08:01", "step 3", "never")
    assert ("permits since" in " ".join(told(row))) is says
