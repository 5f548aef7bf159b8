"""Every request gets one reply with words; what starts or unlocks needs somebody at the plant; what stops needs nothing."""

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosectl.core.evidence import Proof, Standing
from dosectl.core.requests import ANSWERS, KINDS, Judgement, RequestView, StandingAlarm, judge
from dosectl.core.requests.changes import (
    AddTest,
    Answer,
    AttestProof,
    ClearLatch,
    ConfirmConfig,
    Dispense,
    Refill,
    Release,
    ServiceOff,
    ServiceOn,
    Stop,
    WithdrawTest,
)
from dosectl.core.requests.kinds.attest_proof import questions_for
from dosectl.core.requests.methods import METHODS, methods_for
from dosectl.model.feeds import FeederId
from dosectl.model.reasons import Code, Fact, Reason
from dosectl.model.requests import Place, RequestId
from dosectl.model.water_tests import Quantity
from tests.requests.asking import BUTTON, NOW, SITE, UTC_NOW, VIEW, ask, request

STOPPED = replace(VIEW, standing=Standing(stop=Reason(Code("stop.manual"), (("by", "anna"),), NOW)))
SERVICED = replace(VIEW, standing=Standing(service=Reason(Code("stop.service"), (("by", "ben"),), NOW)))
LATCHED = replace(VIEW, latches=(("gas.hold:cell,acid", Code("gas.hold"), Reason(Code("gas.fed_dry"), (), NOW)),))
WORKING = {
    "stop": {},
    "service_on": {},
    "water_test": {"quantity": "ph", "value": 7.4, "method": "meter"},
    "refill": {"feeder": "acid", "container_ml": 18000.0},
    "added_by_hand": {"product": "hypochlorite", "amount": 2000.0, "strength_trade_percent": 12.5},
    "release": {},
    "service_off": {"in_stead_of": "ben"},
    "clear_latch": {"latch": "gas.hold", "reason": "gas.fed_dry"},
    "confirm_plan": {"feeder": "acid", "digest": "digest-acid"},
    "attest_proof": {"feeder": "cell", **{q.key: "yes" for q in questions_for(SITE.feeders[0])}},
    "dispense": {"feeder": "acid", "seconds": 30.0},
}
VIEWS = {"release": STOPPED, "service_off": SERVICED, "clear_latch": LATCHED}
UNLOCKING = ("release", "service_off", "clear_latch", "confirm_plan", "attest_proof", "dispense")


def said(judgement: Judgement) -> str:
    """The reply's sentence; fails where a place has no fact."""
    return judgement.reply.words.format(**dict(judgement.reply.facts))


def working(kind: str, **more: object) -> Judgement:
    return ask(kind, VIEWS.get(kind, VIEW), **{**WORKING[kind], **more})  # type: ignore[arg-type]


@pytest.mark.parametrize("kind", ["stop", "service_on"])
def test_what_stops_needs_no_place_no_time_and_no_argument(kind: str) -> None:
    judgement = ask(kind, place=Place.REMOTE, late_s=86400.0)
    assert judgement.reply.done
    assert isinstance(judgement.change, Stop | ServiceOn)
    assert judgement.change.why.fact("by") == "anna"
    assert judgement.change.why.since == NOW


@pytest.mark.parametrize("kind", UNLOCKING)
def test_what_starts_or_unlocks_is_refused_from_afar(kind: str) -> None:
    judgement = working(kind, place=Place.REMOTE)
    assert (judgement.reply.done, judgement.reply.code, judgement.change) == (False, "request.remote", None)


@pytest.mark.parametrize("kind", UNLOCKING)
def test_from_the_console_it_is_recorded_as_presence_not_proven(kind: str) -> None:
    judgement = working(kind, place=Place.CONSOLE)
    assert judgement.reply.done
    assert "presence not proven" in said(judgement)
    assert judgement.change.presence_proven is False  # type: ignore[union-attr]


@pytest.mark.parametrize("kind", UNLOCKING)
def test_the_button_at_the_plant_proves_presence_for_five_minutes(kind: str) -> None:
    def pressed(ago_s: float) -> Judgement:
        view = VIEWS.get(kind, VIEW)
        view = replace(view, standing=replace(view.standing, presence_s=view.clock_s - ago_s))
        return ask(kind, view, BUTTON, place=Place.PLANT, **WORKING[kind])  # type: ignore[arg-type]

    assert pressed(299.0).change.presence_proven is True  # type: ignore[union-attr]
    assert "presence proven" in said(pressed(299.0))
    assert (pressed(301.0).reply.code, pressed(301.0).change) == ("request.presence", None)


@pytest.mark.parametrize(
    ("kind", "change"),
    [
        ("stop", Stop),
        ("service_on", ServiceOn),
        ("water_test", AddTest),
        ("refill", Refill),
        ("release", Release),
        ("service_off", ServiceOff),
        ("clear_latch", ClearLatch),
        ("confirm_plan", ConfirmConfig),
        ("attest_proof", AttestProof),
        ("dispense", Dispense),
    ],
)
def test_each_granted_request_gives_its_change_and_a_sentence(kind: str, change: type) -> None:
    judgement = working(kind)
    assert isinstance(judgement.change, change)
    assert "{" not in said(judgement)


def test_late_requests_are_refused_but_in_time_they_are_not() -> None:
    assert working("refill", late_s=-0.1).reply.done
    judgement = working("refill", late_s=0.1)
    assert (judgement.reply.code, judgement.change) == ("request.expired", None)


def test_an_id_seen_before_gets_the_same_reply_and_changes_nothing() -> None:
    first = working("refill")
    view = replace(VIEW, seen={RequestId("r1"): first.reply})
    again = judge(SITE, request("stop"), view)
    assert again.reply is first.reply
    assert again.change is None


@pytest.mark.parametrize(
    ("kind", "arguments", "code"),
    [
        ("stopp", {}, "request.unknown"),
        ("refill", {"feeder": "acid"}, "request.missing"),
        ("refill", {"feeder": "acid", "container_ml": 1.0, "volume": 3}, "request.extra"),
        ("refill", {"feeder": "acid", "container_ml": "20"}, "request.argument"),
        ("refill", {"feeder": "acid", "container_ml": float("nan")}, "request.argument"),
        ("refill", {"feeder": "acid", "container_ml": True}, "request.argument"),
        ("dispense", {"feeder": "acid", "seconds": 61.0}, "request.argument"),
        ("answer_alarm", {"alarm": "x", "occurrence": 1.5}, "request.argument"),
        (
            "water_test",
            {"quantity": "ph", "value": 7.4, "method": "meter", "taken_utc": "2026-06-01T09:00:00"},
            "request.argument",
        ),
        ("water_test", {"quantity": "pH", "value": 7.4, "method": "meter"}, "request.argument"),
    ],
)
def test_a_malformed_request_is_refused_with_what_was_found(kind: str, arguments: dict[str, Fact], code: str) -> None:
    judgement = ask(kind, **arguments)
    assert (judgement.reply.code, judgement.change) == (code, None)
    assert "{" not in said(judgement)


@pytest.mark.parametrize(
    ("quantity", "value", "method", "guess"),
    [
        ("free_chlorine", 30.0, "drops", 3.0),
        ("ph", 74.0, "meter", 7.4),
        ("salt", 3200.0, "meter", 3.2),
        ("alkalinity", 8.0, "drops", 142.8),
        ("water_temp", 82.0, "meter", 27.8),
        ("combined_chlorine", 4.0, "strips", 0.4),
    ],
)
def test_a_slip_is_asked_back_with_the_guess(quantity: str, value: float, method: str, guess: float) -> None:
    judgement = ask("water_test", quantity=quantity, value=value, method=method)
    assert (judgement.reply.done, judgement.reply.code) == (False, "water_test.slip")
    assert dict(judgement.reply.facts)["guess"] == guess
    assert f"{value} " in said(judgement)


def test_an_unusual_figure_counts_when_it_is_meant_as_said() -> None:
    judgement = ask("water_test", quantity="free_chlorine", value=30.0, method="drops", as_said=True)
    assert isinstance(judgement.change, AddTest)
    assert judgement.change.test.value == 30.0


def test_what_no_water_can_be_is_refused_even_when_said_so() -> None:
    for value in (-1.0, 700.0):
        assert ask("water_test", quantity="free_chlorine", value=value, method="strips", as_said=True).change is None


def test_a_test_carries_its_method_s_uncertainty_and_the_time_the_water_was_taken() -> None:
    taken = (UTC_NOW - timedelta(hours=2)).isoformat()
    judgement = ask("water_test", quantity="free_chlorine", value=4.0, method="colour", taken_utc=taken)
    assert isinstance(judgement.change, AddTest)
    test = judgement.change.test
    assert (test.sigma, test.taken_s, test.entered_s, test.by) == (0.4, VIEW.clock_s - 7200.0, VIEW.clock_s, "anna")


def test_a_method_that_can_t_measure_it_is_refused_with_those_that_can() -> None:
    judgement = ask("water_test", quantity="stabiliser", value=40.0, method="colour")
    assert judgement.change is None
    assert "turbidity" in said(judgement)


@pytest.mark.parametrize(("method", "bleaches"), [("colour", True), ("photometer", True), ("drops", False), ("strips", False)])
def test_a_colour_test_that_may_be_bleached_says_so(method: str, bleaches: bool) -> None:
    """Common practice: what reads the colour of DPD is bleached; drops and strips are not read so."""
    assert ("bleaches" in said(ask("water_test", quantity="free_chlorine", value=0.0, method=method))) is bleaches


@pytest.mark.parametrize("hours", [-1.0, 15 * 24.0])
def test_a_time_in_the_future_or_long_ago_is_refused(hours: float) -> None:
    taken = (UTC_NOW - timedelta(hours=hours)).isoformat()
    assert ask("water_test", quantity="ph", value=7.4, method="meter", taken_utc=taken).reply.code == "water_test.time"


def test_a_test_is_withdrawn_once_and_an_unknown_one_is_refused() -> None:
    entered = working("water_test").change
    assert isinstance(entered, AddTest)
    view = replace(VIEW, tests=(entered.test,))
    assert ask("withdraw_test", view, test="r1").change == WithdrawTest(RequestId("r1"))
    gone = replace(VIEW, tests=(replace(entered.test, withdrawn=True),))
    assert ask("withdraw_test", gone, test="r1").change is None
    assert not ask("withdraw_test", view, test="r9").reply.done


def test_a_refill_in_litres_or_beyond_the_container_is_asked_back() -> None:
    assert ask("refill", feeder="acid", container_ml=18.0).reply.code == "refill.litres"
    assert ask("refill", feeder="acid", container_ml=18.0, as_said=True).reply.done
    assert ask("refill", feeder="acid", container_ml=20001.0).reply.code == "refill.too_much"
    assert ask("refill", feeder="cell", container_ml=100.0).reply.code == "refill.none"


def test_service_is_ended_by_who_set_it_or_by_one_who_names_them() -> None:
    assert not ask("service_off", SERVICED).reply.done
    assert ask("service_off", SERVICED, by="ben").reply.done
    assert isinstance(ask("service_off", SERVICED, in_stead_of="ben").change, ServiceOff)


def test_a_latch_is_cleared_only_by_one_who_read_its_reason() -> None:
    assert ask("clear_latch", LATCHED, latch="gas.hold", reason="whatever").change is None
    granted = ask("clear_latch", LATCHED, latch="gas.hold:cell,acid", reason="gas.fed_dry").change
    assert granted == ClearLatch("gas.hold:cell,acid", "anna", False)
    assert ask("clear_latch", latch="gas.hold", reason="gas.fed_dry").reply.code == "clear_latch.none"


def test_an_answer_covers_only_the_occurrence_it_names() -> None:
    view: RequestView = replace(VIEW, alarms=(StandingAlarm(Code("flow.none"), 3, False),))
    assert ask("answer_alarm", view, alarm="flow.none", occurrence=3).change == Answer(Code("flow.none"), 3, "anna")
    assert ask("answer_alarm", view, alarm="flow.none", occurrence=2).reply.code == "answer_alarm.newer"
    assert ask("answer_alarm", view, alarm="flow.none", occurrence=7).reply.code == "answer_alarm.not_yet"
    acked = replace(VIEW, alarms=(StandingAlarm(Code("flow.none"), 3, True),))
    assert ask("answer_alarm", acked, alarm="flow.none", occurrence=3).change is None
    assert ask("answer_alarm", alarm="flow.none", occurrence=3).reply.code == "answer_alarm.none"


def test_settings_are_confirmed_only_by_the_digest_that_runs() -> None:
    assert ask("confirm_plan", feeder="acid", digest="digest-cell").reply.code == "confirm_plan.other"
    known = replace(VIEW, standing=Standing(confirmed=((FeederId("acid"), "digest-acid"),)))
    assert ask("confirm_plan", known, feeder="acid", digest="digest-acid").change is None


def test_a_proof_needs_every_answer_of_its_kind_and_is_marked_as_attested() -> None:
    answers = {q.key: "yes" for q in questions_for(SITE.feeders[1])}
    granted = ask("attest_proof", feeder="acid", **answers).change
    assert isinstance(granted, AttestProof)
    assert granted.proof == Proof(FeederId("acid"), "digest-acid", "n1", True, False, "2026-06-01T10:00:00+00:00", "anna")
    for key in answers:
        for other in ("", "no", "Yes?"):
            refusal = ask("attest_proof", feeder="acid", **{**answers, key: other})
            assert (refusal.reply.code, refusal.change) == ("attest_proof.open", None)


def test_nothing_is_dispensed_while_stopped_or_in_service() -> None:
    for view in (STOPPED, SERVICED):
        assert ask("dispense", view, feeder="acid", seconds=10.0).reply.code == "dispense.held"


@given(
    st.sampled_from([str(kind.code) for kind in KINDS]),
    st.dictionaries(
        st.sampled_from([argument.name for kind in KINDS for argument in kind.arguments]),
        st.one_of(
            st.booleans(), st.floats(), st.integers(), st.text(max_size=20), st.sampled_from(["acid", "ph", "meter", "yes"])
        ),
        max_size=4,
    ),
    st.sampled_from(list(Place)),
)
def test_whatever_is_asked_gets_one_reply_with_words_and_no_change_without_done(
    kind: str, arguments: dict[str, Fact], place: Place
) -> None:
    asked = request(kind, place)
    judgement = judge(SITE, replace(asked, arguments=tuple(arguments.items())), STOPPED)
    assert judgement.reply.request == "r1"
    assert said(judgement)
    assert judgement.reply.done or judgement.change is None
    assert judgement == judge(SITE, replace(asked, arguments=tuple(arguments.items())), STOPPED)


def test_the_registry_is_whole() -> None:
    assert len({kind.code for kind in KINDS}) == len(KINDS) == 23
    assert len({answer.code for answer in ANSWERS}) == len(ANSWERS)
    assert all(argument.help for kind in KINDS for argument in kind.arguments)
    assert all(methods_for(quantity) for quantity in Quantity)
    assert all(method.absolute > 0.0 for method in METHODS)
