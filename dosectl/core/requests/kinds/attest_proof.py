"""Attest a feeder's proof record by typed answers. It says plainly that it is attested: nobody watched the tests being done."""

from dataclasses import dataclass

from dosectl.core.evidence import Proof
from dosectl.core.requests.changes import AttestProof
from dosectl.core.requests.kind import (
    PRESENCE,
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
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.reasons import Code, ReasonKind

YES = "yes"


@dataclass(frozen=True, slots=True)
class Question:
    """One question; `pumped_only`, `acid_only`, `cell_only` narrow whom it is asked for."""

    key: str
    words: str
    pumped_only: bool = False
    acid_only: bool = False
    cell_only: bool = False

    def asked_of(self, feeder: Feeder) -> bool:
        """Whether this feeder must answer it."""
        pumped = feeder.kind == "pump"
        return (
            not (self.pumped_only and not pumped)
            and not (self.cell_only and pumped)
            and not (self.acid_only and feeder.substance is not Substance.ACID)
        )


QUESTIONS: tuple[Question, ...] = (
    Question(
        "flow_stops_it",
        "Did the feeder stop within a second when the water flow was cut, by wire, with water in place of chemical?",
    ),
    Question("pump_stops_it", "Did it stop when the circulation pump was switched off?"),
    Question("node_expires", "Did it stop within 15 s when the controller or the network was cut?"),
    Question("feedback_true", "Does the feedback at its load show on when it runs and off when it does not?"),
    Question("stop_works", "Did the local stop or isolator stop it?"),
    Question("rate_measured", "Was its rate measured, and is it the one in the settings within 10 %?"),
    Question("probes_tested", "Were the probes tested in buffer and standard, and does pulling each plug name that probe?"),
    Question("never_both", "Can the acid and chlorine outputs never close together, by wire?", pumped_only=True),
    Question("no_siphon", "Is there an anti-siphon valve, and did the open line drip nothing for 10 min?", pumped_only=True),
    Question(
        "apart", "Are containers, lines and injection points of acid and chlorine apart, keyed and labelled?", pumped_only=True
    ),
    Question("small_drum", "Does the connected acid container hold no more than the advised amount?", acid_only=True),
    Question("gas_cutout", "Does the cell's own flow or gas cut-out stop it within seconds?", cell_only=True),
)

ATTESTED = ReasonKind(
    Code("attest_proof.done"),
    "{feeder}: proof record written from {count} typed answers, marked as attested ({presence}). "
    "It holds for settings {digest} and node '{node}' only.",
)
NO_FEEDER = ReasonKind(Code("attest_proof.none"), "There is no feeder '{feeder}'. Feeders: {feeders}.")
OPEN = ReasonKind(
    Code("attest_proof.open"),
    "{feeder} is not proven: {open} of {count} answers are not 'yes'. First open: {key}: {question} Do the test, then answer.",
)


def questions_for(feeder: Feeder) -> tuple[Question, ...]:
    """What must be answered with yes for this feeder."""
    return tuple(question for question in QUESTIONS if question.asked_of(feeder))


def judge(site: Site, asked: Asked, view: RequestView) -> Judgement:
    """Writes the record when every question of this feeder was answered with yes."""
    feeder = next((entry for entry in site.feeders if entry.id == asked.text("feeder")), None)
    if feeder is None:
        return refused(
            asked.request, NO_FEEDER, feeder=asked.text("feeder")[:40], feeders=", ".join(entry.id for entry in site.feeders)
        )
    questions = questions_for(feeder)
    open_ones = [question for question in questions if asked.text(question.key) != YES]
    if open_ones:
        first = open_ones[0]
        return refused(
            asked.request,
            OPEN,
            feeder=str(feeder.id),
            open=len(open_ones),
            count=len(questions),
            key=first.key,
            question=first.words,
        )
    proof = Proof(
        feeder=FeederId(feeder.id),
        digest=feeder.digest,
        node=str(feeder.node or ""),
        attested=True,
        simulated=site.simulated,
        at_utc=view.now.utc.isoformat(timespec="seconds"),
        by=asked.request.by,
    )
    return granted(
        asked,
        ATTESTED,
        AttestProof(proof, asked.presence_proven),
        feeder=str(feeder.id),
        count=len(questions),
        digest=feeder.digest,
        node=proof.node,
        presence=PRESENCE[asked.presence_proven],
    )


ATTEST_PROOF = RequestKind(
    code=Code("attest_proof"),
    arguments=(
        Argument("feeder", ArgumentType.TEXT, "which feeder was proven"),
        *(Argument(question.key, ArgumentType.TEXT, question.words, required=False) for question in QUESTIONS),
    ),
    rights=Rights.AT_THE_PLANT,
    help="Attest that a feeder was proven, answering each question with the word yes.",
    answers=(ATTESTED, NO_FEEDER, OPEN),
    judge=judge,
)
