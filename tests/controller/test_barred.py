"""What is there to stay is on record; what ends by itself soon is not."""

from datetime import UTC, datetime

from dosectl.core.controller.barred import HELD_FLOW_S, HELD_S, Held, barred
from dosectl.model.reasons import Code, Facts, Reason
from dosectl.model.verdicts import Bar, Denial, Limit, Verdict
from tests.builders import ACID, CELL, an_evidence

NOW = an_evidence().now
ITSELF, PERSON = Code("itself"), Code("person")


def a_denial(code: str, clears_by: Code = ITSELF, latched: bool = False, facts: Facts = ()) -> Denial:
    return Denial(Code(f"guard.{code}"), Reason(Code(code), facts, NOW), latched, clears_by)


def after(verdict: Verdict, for_s: float, flowed_s: float, before: tuple[Bar, ...] = ()) -> tuple[Bar, ...]:
    """What is on record once the verdict has stood so long, and water has flowed for so much of it."""
    objections = {CELL: (verdict,), ACID: ()}
    bars, held = barred(before, {}, objections, 1000.0, 500.0)
    return barred(bars, held, objections, 1000.0 + for_s, 500.0 + flowed_s)[0]


def test_what_waits_for_a_person_bars_at_once() -> None:
    assert after(a_denial("x", latched=True), 0.0, 0.0) == (Bar(CELL, Code("guard.x"), Reason(Code("x"), (), NOW)),)
    for by in ("person", "refill", "test", "record"):
        assert after(a_denial("x", Code(by)), 0.0, 0.0), by


def test_what_ends_by_itself_bars_once_it_outlasted_an_hour_of_flow_or_a_day() -> None:
    assert after(a_denial("cold"), HELD_FLOW_S - 1.0, HELD_FLOW_S - 1.0) == ()
    assert after(a_denial("cold"), HELD_FLOW_S, HELD_FLOW_S)
    assert after(a_denial("flow.lost"), 12 * 3600.0, 0.0) == ()  # the pump rests over night
    assert after(a_denial("flow.lost"), HELD_S, 0.0)


def test_the_pauses_of_healthy_feeding_and_what_names_its_end_never_bar() -> None:
    for code in ("mixing.waiting", "lockout.other_on", "flow.settling"):
        assert after(a_denial(code), HELD_S, HELD_S) == ()
    assert after(a_denial("start.holding", facts=(("until_utc", "2026-07-01T11:00Z"),)), HELD_S, HELD_S) == ()


def test_a_rate_is_kept_and_a_plain_limit_is_not() -> None:
    rate = Limit(Code("probe.orp"), 0.0, Reason(Code("probe.fallback"), (("rate_mg_l_day", 1.44),), NOW))
    assert [bar.rate_mg_l_day for bar in after(rate, 0.0, 0.0)] == [1.44]
    assert after(Limit(Code("mass.single"), 25.0, Reason(Code("mass.single_limit"), (), NOW)), HELD_S, HELD_S) == ()


def test_a_rate_that_names_its_end_is_kept_with_it_and_anew_when_that_moves() -> None:
    def cut(until_utc: str) -> Limit:
        why = Reason(Code("mass.learned_cut"), (("rate_mg_l_day", 1.44), ("until_utc", until_utc)), NOW)
        return Limit(Code("mass.learned"), 0.0, why)

    before = after(cut("2026-06-26T16:02Z"), 0.0, 0.0)
    assert [(bar.rate_mg_l_day, bar.until) for bar in before] == [(1.44, datetime(2026, 6, 26, 16, 2, tzinfo=UTC))]
    assert after(cut("2026-06-26T16:03Z"), 0.0, 0.0, before) is before  # rounding, and a clock that is set by a second
    assert after(cut("2026-06-29T16:02Z"), 0.0, 0.0, before)[0].until == datetime(2026, 6, 29, 16, 2, tzinfo=UTC)
    assert after(cut("soon"), 0.0, 0.0)[0].until is None


def test_the_limit_under_a_cover_is_kept_as_a_rate() -> None:
    for code in ("cover.is_closed", "cover.held"):
        why = Reason(Code(code), (("limit_mg_l", 3.25), ("left_mg_l", 1.0)), NOW)
        assert [bar.rate_mg_l_day for bar in after(Limit(Code("cover.closed"), 25.0, why), 0.0, 0.0)] == [3.25]
    day = Reason(Code("mass.learned_day"), (("limit_mg_l", 3.6),), NOW)
    assert after(Limit(Code("mass.learned"), 25.0, day), HELD_S, HELD_S) == ()


def test_it_ends_with_the_denial_and_outlasts_a_restart() -> None:
    stood = after(a_denial("cold"), HELD_FLOW_S, HELD_FLOW_S)
    assert barred(stood, {}, {CELL: (), ACID: ()}, 9000.0, 9000.0)[0] == ()
    assert barred(stood, {}, {CELL: (a_denial("cold"),), ACID: ()}, 9000.0, 9000.0)[0] is stood


def test_nothing_new_gives_the_same_objects_so_that_the_record_is_not_rewritten() -> None:
    objections = {CELL: (a_denial("x", latched=True, facts=(("moved", 1.0),)),), ACID: (a_denial("cold"),)}
    bars, held = barred((), {}, objections, 0.0, 0.0)
    later = {CELL: (a_denial("x", latched=True, facts=(("moved", 2.0),)),), ACID: (a_denial("cold"),)}
    again: tuple[tuple[Bar, ...], Held] = barred(bars, held, later, 60.0, 60.0)
    assert again[0] is bars
    assert again[1] is held
