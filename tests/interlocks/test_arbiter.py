"""The arbiter over its real dispatch and ledger: whatever guards and wishes say, the last word keeps its promises."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.arbiter import RESERVE_MG_L, decide, judge
from dosectl.core.interlocks.dispatch import Dispatch, draw
from dosectl.core.interlocks.guard import ITSELF, Guard, Memory, Need
from dosectl.model.feeds import FeederId, FeedOff, FeedOn, Origin, Substance, Wish
from dosectl.model.ledger import Ledger
from dosectl.model.reasons import Code, Reason
from dosectl.model.signals import SignalKind, Status
from dosectl.model.verdicts import Denial, Limit, Permit, Verdict
from tests.builders import ACID, CELL, a_ledger, a_reading, a_site, an_evidence, later, with_facts, with_reading

WHY = Reason(Code("test.why"), (), an_evidence().now)


@dataclass(frozen=True)
class Stub:
    """A guard that answers what it is told."""

    code: Code
    feeders: tuple[FeederId, ...]
    answer: Callable[[Evidence], Verdict]
    needs: tuple[Need, ...] = ()

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        return self.answer(evidence), memory


def permits(*feeders: FeederId) -> Stub:
    return Stub(Code("a.permit"), feeders or (CELL, ACID), lambda _: Permit(Code("a.permit")))


def denies(*feeders: FeederId, code: str = "a.denial") -> Stub:
    return Stub(Code(code), feeders, lambda _: Denial(Code(code), WHY, latched=False, clears_by=ITSELF))


def limits(mass_g: float, *feeders: FeederId) -> Stub:
    return Stub(Code("a.limit"), feeders, lambda _: Limit(Code("a.limit"), mass_g, WHY))


def a_wish(feeder: FeederId, mass_g: float = 5.0) -> Wish:
    return Wish(feeder, Origin.CONTROL, 1.0, mass_g, WHY)


@dataclass
class Rig:
    """Steps the arbiter as the controller does: draw, judge, decide."""

    guards: tuple[Guard, ...]
    evidence: Evidence
    ledger: Ledger
    dispatch: dict[FeederId, Dispatch]

    @staticmethod
    def of(*guards: Any, **site: Any) -> "Rig":
        evidence = an_evidence(a_site(**site))
        return Rig(guards, evidence, evidence.ledger, {f.id: Dispatch(f.id) for f in evidence.site.feeders})

    def step(self, *wishes: Wish, dt_s: float = 1.0, running: dict[FeederId, bool | None] | None = None) -> dict[FeederId, Any]:
        self.evidence = later(self.evidence, dt_s)
        seen = running or {}
        for feeder in self.evidence.site.feeders:
            state = seen.get(feeder.id, self.dispatch[feeder.id].asked_on)
            self.evidence = with_facts(self.evidence, feeder.id, running=state)
            self.ledger, _ = draw(
                feeder, self.dispatch[feeder.id], state, self.evidence.clock_s - dt_s, self.evidence.clock_s, self.ledger
            )
        self.evidence = replace(self.evidence, ledger=self.ledger)
        objections, _ = judge(self.guards, self.evidence, {})
        ruling = decide(self.evidence.site, self.evidence, objections, wishes, {}, self.dispatch, self.ledger)
        self.ledger = ruling.ledger
        self.dispatch = {item.feeder: item for item in ruling.dispatch}
        return {command.feeder: command for command in ruling.commands}


def test_a_wish_without_objection_is_fed_and_debited_first() -> None:
    rig = Rig.of(permits())
    command = rig.step(a_wish(CELL))[CELL]
    assert isinstance(command, FeedOn)
    assert command.send
    assert command.expires_s == 10.0
    opened = rig.ledger.of(CELL).open
    assert opened is not None
    assert opened.no == command.debit_no


def test_every_feeder_gets_exactly_one_command_even_when_nothing_is_wished() -> None:
    commands = Rig.of(permits()).step()
    assert set(commands) == {CELL, ACID}
    assert all(isinstance(command, FeedOff) for command in commands.values())


def test_one_denial_outweighs_all_permits() -> None:
    command = Rig.of(permits(), denies(CELL), permits()).step(a_wish(CELL))[CELL]
    assert isinstance(command, FeedOff)
    assert command.why == WHY


def test_a_feeder_that_no_guard_watches_is_never_fed() -> None:
    command = Rig.of(permits(ACID)).step(a_wish(CELL))[CELL]
    assert isinstance(command, FeedOff)
    assert command.why.code == "arbiter.unguarded"


def test_a_guard_that_raises_denies() -> None:
    def broken(_: Evidence) -> Verdict:
        raise ZeroDivisionError("boom")

    command = Rig.of(permits(), Stub(Code("a.broken"), (CELL,), broken)).step(a_wish(CELL))[CELL]
    assert isinstance(command, FeedOff)
    assert command.why.code == "arbiter.guard_failed"


@pytest.mark.parametrize("status", list(Status))
def test_a_need_worse_than_declared_denies_before_the_guard_is_asked(status: Status) -> None:
    def never(_: Evidence) -> Verdict:
        assert status <= Status.OUT_OF_SPEC, "judged although its need was not met"
        return Permit(Code("a.needy"))

    needy = Stub(Code("a.needy"), (CELL,), never, (Need(SignalKind.PH, Status.OUT_OF_SPEC),))
    rig = Rig.of(permits(), needy)
    rig.evidence = with_reading(rig.evidence, a_reading("ph", 7.5, status))
    assert isinstance(rig.step(a_wish(CELL))[CELL], FeedOn) is (status <= Status.OUT_OF_SPEC)


def test_a_need_that_is_not_fitted_denies() -> None:
    needy = Stub(Code("a.needy"), (CELL,), lambda _: Permit(Code("a.needy")), (Need(SignalKind.SALT, Status.OUT_OF_SPEC),))
    assert isinstance(Rig.of(permits(), needy).step(a_wish(CELL))[CELL], FeedOff)


def test_the_tightest_limit_shortens_the_feed_and_is_named_when_it_is_used_up() -> None:
    rate = a_site().feeder(CELL).rate_g_s
    rig = Rig.of(limits(rate * 4.0, CELL), limits(rate * 400.0, CELL), permits())
    command = rig.step(a_wish(CELL))[CELL]
    assert isinstance(command, FeedOn)
    assert command.expires_s == pytest.approx(4.0)
    spent = Rig.of(limits(0.0, CELL), permits()).step(a_wish(CELL))[CELL]
    assert isinstance(spent, FeedOff)
    assert spent.why == WHY


def test_a_window_limit_does_not_cut_the_feed_that_draws_on_its_own_reservation() -> None:
    site = a_site()
    cap_g = site.feeder(CELL).rate_g_s * 200.0
    window = Stub(
        Code("a.window"), (CELL,),
        lambda e: Limit(Code("a.window"), max(0.0, cap_g - e.ledger.of(CELL).window_g(e.clock_s, 3600.0)), WHY),
    )  # fmt: skip
    rig = Rig.of(window, permits())
    fed_s = 0
    for _ in range(400):
        fed_s += isinstance(rig.step(a_wish(CELL, mass_g=50.0))[CELL], FeedOn)
    assert 190 <= fed_s <= 201
    assert rig.ledger.of(CELL).total_g <= cap_g + 1e-6


def test_an_on_is_renewed_before_it_dies_and_not_on_every_wake() -> None:
    rig = Rig.of(permits())
    sent = sum(rig.step(a_wish(CELL, mass_g=50.0))[CELL].send for _ in range(60))
    assert sent == 12


def test_an_off_is_said_at_once_and_again_until_the_feedback_agrees() -> None:
    rig = Rig.of(permits())
    rig.step(a_wish(CELL))
    said = [rig.step(running={CELL: True})[CELL].repeat for _ in range(5)]
    assert said == [True] * 5
    assert [rig.step(running={CELL: False})[CELL].repeat for _ in range(3)] == [False] * 3


def test_acid_waits_while_the_cell_is_on_even_if_no_guard_says_so() -> None:
    rig = Rig.of(permits())
    rig.step(a_wish(CELL))
    commands = rig.step(a_wish(CELL), a_wish(ACID))
    assert isinstance(commands[CELL], FeedOn)
    assert isinstance(commands[ACID], FeedOff)
    handover = rig.step(a_wish(ACID))  # in the step that ends the cell nothing else may begin
    assert isinstance(handover[CELL], FeedOff)
    assert isinstance(handover[ACID], FeedOff)


def test_mass_that_runs_unasked_is_booked() -> None:
    rig = Rig.of(permits())
    rate = rig.evidence.site.feeder(ACID).rate_g_s
    for _ in range(100):
        rig.step(running={ACID: True})
    assert rig.ledger.of(ACID).window_g(rig.evidence.clock_s, 3600.0) == pytest.approx(100 * rate)


def test_a_feeder_without_load_feedback_is_booked_to_the_end_of_its_last_command() -> None:
    site = a_site()
    cell = replace(site.feeder(CELL), feedback=None, metered=False)
    rig = Rig.of(permits(), feeders=(cell,))
    rig.step(a_wish(CELL), running={CELL: None})
    for _ in range(15):
        rig.step(running={CELL: None})
    assert rig.ledger.of(CELL).open is None
    assert rig.ledger.of(CELL).total_g >= cell.rate_g_s * 10.0


wish_mass = st.floats(0.001, 40.0)
moves = st.lists(
    st.tuples(
        st.one_of(st.none(), wish_mass),  # cell wish
        st.one_of(st.none(), wish_mass),  # acid wish
        st.booleans(),  # cell denied
        st.booleans(),  # acid denied
        st.floats(0.0, 6.0),  # room left [g] for the cell
        st.floats(0.2, 30.0),  # dt
        st.sampled_from([None, True, False]),  # cell feedback
        st.sampled_from([None, True, False]),  # acid feedback
    ),
    min_size=1,
    max_size=40,
)


@settings(max_examples=150, deadline=None)
@given(moves)
def test_whatever_happens_groups_never_overlap_denials_hold_and_reservations_cover_every_life(plan: list[Any]) -> None:
    rig = Rig.of(permits())
    site = rig.evidence.site
    for cell_g, acid_g, cell_denied, acid_denied, room_g, dt_s, cell_fb, acid_fb in plan:
        guards: list[Guard] = [permits(), limits(room_g, CELL)]
        guards += [denies(CELL)] if cell_denied else []
        guards += [denies(ACID)] if acid_denied else []
        rig.guards = tuple(guards)
        wishes = [a_wish(f, m) for f, m in ((CELL, cell_g), (ACID, acid_g)) if m is not None]
        asked_before = {f for f, d in rig.dispatch.items() if d.asked_on}
        commands = rig.step(*wishes, dt_s=dt_s, running={CELL: cell_fb, ACID: acid_fb})
        on = {f for f, c in commands.items() if isinstance(c, FeedOn)}
        assert len(on) <= 1
        assert not (on and asked_before and on != asked_before), "one group began in the step in which the other ended"
        assert not (cell_denied and CELL in on)
        assert not (acid_denied and ACID in on)
        assert on <= {w.feeder for w in wishes}
        for feeder in on:
            command, book = commands[feeder], rig.ledger.of(feeder)
            assert book.open is not None
            assert book.open.reserved_g <= RESERVE_MG_L * site.pool.volume_m3 + 1e-9
            left_g = book.open.reserved_g - book.open.used_g
            if command.send:
                assert left_g + 1e-6 >= command.expires_s * site.feeder(feeder).rate_g_s * command.level
            assert 0.0 < command.level <= 1.0
            assert 0.0 < command.expires_s <= site.expires_s


def test_the_builder_gives_a_ledger_for_each_feeder() -> None:
    assert {entry.feeder for entry in a_ledger(a_site()).feeders} == {CELL, ACID}


def test_two_chlorine_feeders_share_the_room_that_is_left_in_one_step() -> None:
    site = a_site()
    twin = replace(site.feeder(CELL), id=FeederId("twin"))
    feeders = (site.feeder(CELL), twin)
    room_g = 1.0
    window = Stub(Code("a.window"), (CELL, twin.id), lambda e: Limit(
        Code("a.window"), max(0.0, room_g - e.ledger.window_g(Substance.CHLORINE, e.clock_s, 3600.0)), WHY))  # fmt: skip
    rig = Rig.of(Stub(Code("a.permit"), (CELL, twin.id), lambda _: Permit(Code("a.permit"))), window, feeders=feeders)
    for _ in range(400):
        rig.step(a_wish(CELL, 50.0), a_wish(twin.id, 50.0))
        assert rig.ledger.window_g(Substance.CHLORINE, rig.evidence.clock_s, 3600.0) <= room_g + 1e-9
    assert rig.ledger.window_g(Substance.CHLORINE, rig.evidence.clock_s, 3600.0) > 0.5
