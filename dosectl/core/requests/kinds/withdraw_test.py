"""Withdraw a water test that was a slip: it no longer counts, both acts stay in the record."""

from dosectl.core.requests.changes import WithdrawTest
from dosectl.core.requests.kind import (
    Argument,
    ArgumentType,
    Asked,
    Judgement,
    RequestKind,
    RequestView,
    Rights,
    granted,
    refused,
)
from dosectl.core.site import Site
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.requests import RequestId

WITHDRAWN = ReasonKind(
    Code("withdraw_test.done"), "The {quantity} test of {value} by {by} no longer counts; it stays in the record."
)
ALREADY = ReasonKind(Code("withdraw_test.already"), "That test was withdrawn before. Nothing changed.")
NO_TEST = ReasonKind(Code("withdraw_test.none"), "There is no water test with the id '{test}'. Look it up in the list of tests.")


def judge(_site: Site, asked: Asked, view: RequestView) -> Judgement:
    """Withdraws the test that a request entered."""
    wanted = RequestId(asked.text("test"))
    test = next((entry for entry in view.tests if entry.request == wanted), None)
    if test is None:
        return refused(asked.request, NO_TEST, test=str(wanted)[:60])
    if test.withdrawn:
        return granted(asked, ALREADY, None)
    return granted(asked, WITHDRAWN, WithdrawTest(wanted), quantity=test.quantity.value, value=test.value, by=test.by)


WITHDRAW_TEST = RequestKind(
    code=Code("withdraw_test"),
    arguments=(Argument("test", ArgumentType.TEXT, "the id that the entry was answered with"),),
    rights=Rights.ANYWHERE,
    help="Withdraw a water test that was entered by mistake.",
    answers=(WITHDRAWN, ALREADY, NO_TEST),
    judge=judge,
)
