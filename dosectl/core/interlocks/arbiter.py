"""The arbiter: a plain conjunction of guards, then at most one lockout group is granted. Nothing after it may add or lengthen.

It takes the mass itself from the site, keeps the ledger's reservations, and gives exactly one command for every feeder.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.dispatch import Dispatch, asked_off, asked_on
from dosectl.core.interlocks.guard import FRESH, ITSELF, PERSON, Guard, Memory, memory_key
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import FeedCommand, FeederId, FeedOff, FeedOn, Substance, Wish
from dosectl.model.ledger import Debit, FeederLedger, Ledger
from dosectl.model.reasons import Code, Reason, ReasonKind
from dosectl.model.verdicts import Denial, Limit, Permit, Verdict

NEED_UNMET = ReasonKind(
    Code("arbiter.need_unmet"), "{guard} can't judge: the {signal} reading is {status}. Nothing is fed until it is back."
)
GUARD_FAILED = ReasonKind(
    Code("arbiter.guard_failed"), "{guard} failed with {error}; feeding is stopped. This is a defect: report it with the record."
)
UNGUARDED = ReasonKind(Code("arbiter.unguarded"), "No guard stands before this feeder, so it is never fed.")
OTHER_GROUP = ReasonKind(Code("arbiter.other_group"), "Waiting: {other} is being fed, and the two never run together.")
LIMIT_USED = ReasonKind(Code("arbiter.limit_used"), "{guard} leaves {mass_g} g, less than the shortest feed of {shortest_g} g.")
UNWANTED = ReasonKind(Code("arbiter.unwanted"), "Nothing is wanted now.")
ORPHANED = ReasonKind(
    Code("arbiter.orphaned"),
    "{latch} was latched before the settings changed, and no guard of the present settings owns it. "
    "Nothing is fed until a person at the plant has mended its cause ({cause}) and cleared it.",
)
REASONS = (NEED_UNMET, GUARD_FAILED, UNGUARDED, OTHER_GROUP, LIMIT_USED, UNWANTED, ORPHANED)

ARBITER = Code("arbiter")
RESERVE_S = 300.0  # a reservation holds at most five minutes of feeding ...
RESERVE_MG_L = 0.25  # ... and at most this much: what a crash can over-count
LIFE_S_MIN = 1.0  # relays take whole seconds; a shorter life is no feed

Objections = Mapping[FeederId, tuple[Verdict, ...]]
"""Limits and denials per feeder, in the guards' order; permits carry nothing and are left out."""


@dataclass(frozen=True, slots=True)
class Ruling:
    """The last word: one command per feeder, and the ledger with the debits that must be on the disk before any ON leaves."""

    commands: tuple[FeedCommand, ...]
    dispatch: tuple[Dispatch, ...]
    ledger: Ledger
    opened: tuple[Debit, ...]


def _called(guard: Guard, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
    """The guard's verdict; a need not met or an exception is a denial."""
    for need in guard.needs:
        reading = evidence.reading(need.kind)
        if reading is None or reading.status > need.worst:
            status = "not fitted" if reading is None else reading.status.name.lower()
            why = NEED_UNMET.because(evidence.now, guard=str(guard.code), signal=need.kind.value, status=status)
            return Denial(guard.code, why, latched=False, clears_by=ITSELF), memory
    try:
        return guard.judge(evidence, memory)
    except Exception as error:  # noqa: BLE001 - whatever a guard does wrong, it must not permit
        why = GUARD_FAILED.because(evidence.now, guard=str(guard.code), error=f"{type(error).__name__}: {error}"[:120])
        return Denial(guard.code, why, latched=False, clears_by=ITSELF), memory


def judge(
    guards: tuple[Guard, ...], evidence: Evidence, memories: Mapping[str, Memory]
) -> tuple[dict[FeederId, tuple[Verdict, ...]], dict[str, Memory]]:
    """Objections per feeder and the guards' memories after this step.

    A feeder without a guard is denied, and so is every feeder while a latch stands that no guard of these settings owns: what
    it stood for is not known to be mended because someone changed the settings.
    """
    objections: dict[FeederId, list[Verdict]] = {feeder.id: [] for feeder in evidence.site.feeders}
    guarded: set[FeederId] = set()
    kept: dict[str, Memory] = dict(memories)
    for guard in guards:
        key = memory_key(guard)
        verdict, kept[key] = _called(guard, evidence, memories.get(key, FRESH))
        guarded.update(guard.feeders)
        if not isinstance(verdict, Permit):
            for feeder in guard.feeders:
                objections[feeder].append(verdict)
    orphaned = _orphaned(guards, memories)
    for feeder_id, verdicts in objections.items():
        verdicts.extend(orphaned)
        if feeder_id not in guarded:
            verdicts.append(Denial(ARBITER, UNGUARDED.because(evidence.now), latched=False, clears_by=ITSELF))
    return {feeder: tuple(verdicts) for feeder, verdicts in objections.items()}, kept


def _orphaned(guards: tuple[Guard, ...], memories: Mapping[str, Memory]) -> tuple[Denial, ...]:
    """A denial for each latch without a guard."""
    if not any(memory.latched for memory in memories.values()):
        return ()
    owned = {memory_key(guard) for guard in guards}
    return tuple(
        Denial(ARBITER, ORPHANED.because(memory.latched.since, latch=key, cause=str(memory.latched.code)), True, PERSON)
        for key, memory in memories.items()
        if memory.latched is not None and key not in owned
    )


def first_denial(verdicts: tuple[Verdict, ...]) -> Denial | None:
    """The first denial in the registry's causal order (power, flow, ... limits), None where there is none."""
    return next((verdict for verdict in verdicts if isinstance(verdict, Denial)), None)


def tightest(verdicts: tuple[Verdict, ...]) -> Limit | None:
    """The limit that leaves least, None where nothing limits."""
    limits = [verdict for verdict in verdicts if isinstance(verdict, Limit)]
    return min(limits, key=lambda limit: limit.mass_g) if limits else None


def _room_g(limit: Limit | None, book: FeederLedger) -> float:
    """What may be fed from now on under the tightest limit [g]: what it lets us book more, and what is already booked."""
    if limit is None:
        return math.inf
    left_g = book.open.reserved_g - book.open.used_g if book.open is not None else 0.0
    return max(limit.mass_g, 0.0) + left_g


def _life_s(site: Site, feeder: Feeder, wish: Wish, room_g: float) -> float:
    """How long the next command may live: never past what is wished or what the tightest limit leaves [s]."""
    mass_g = min(wish.mass_g, room_g, RESERVE_MG_L * site.pool.volume_m3)
    return min(site.expires_s, RESERVE_S, mass_g / (feeder.rate_g_s * wish.level))


def _refusal(
    evidence: Evidence, feeder: Feeder, wish: Wish | None, verdicts: tuple[Verdict, ...], idle: Reason | None, book: FeederLedger
) -> Reason | None:
    """Why this feeder is not fed now, None where it may be."""
    denial = first_denial(verdicts)
    if denial is not None:
        return denial.why
    if wish is None or wish.mass_g <= 0.0:
        return idle or UNWANTED.because(evidence.now)
    limit = tightest(verdicts)
    room_g = _room_g(limit, book)
    if _life_s(evidence.site, feeder, wish, room_g) >= LIFE_S_MIN:
        return None
    if limit is not None and room_g < wish.mass_g:
        return limit.why
    shortest = round(feeder.rate_g_s * wish.level * LIFE_S_MIN, 3)
    return LIMIT_USED.because(evidence.now, guard="the pulse", mass_g=round(wish.mass_g, 3), shortest_g=shortest)


def _granted_group(site: Site, dispatch: Mapping[FeederId, Dispatch], willing: Mapping[FeederId, Wish]) -> str | None:
    """The one lockout group that may be granted: the one being fed, else that of the first willing feeder."""
    for feeder in site.feeders:
        if dispatch[feeder.id].asked_on:
            return feeder.lockout_group
    for feeder in site.feeders:
        if feeder.id in willing:
            return feeder.lockout_group
    return None


def decide(
    site: Site,
    evidence: Evidence,
    objections: Objections,
    wishes: tuple[Wish, ...],
    idle: Mapping[FeederId, Reason],
    dispatch: Mapping[FeederId, Dispatch],
    ledger: Ledger,
) -> Ruling:
    """One command for every feeder.

    `ledger` has this step's draws; `idle` says why control wants nothing of a feeder. Grants go to one lockout group at most,
    and never to another group than the one asked on in the step before.
    """
    wanted = {wish.feeder: wish for wish in wishes}
    refusals: dict[FeederId, Reason] = {}
    willing: dict[FeederId, Wish] = {}
    for feeder in site.feeders:
        wish = wanted.get(feeder.id)
        why = _refusal(evidence, feeder, wish, objections[feeder.id], idle.get(feeder.id), ledger.of(feeder.id))
        if why is None and wish is not None:
            willing[feeder.id] = wish
        elif why is not None:
            refusals[feeder.id] = why
    group = _granted_group(site, dispatch, willing)
    taken_g: dict[Substance, float] = {}  # limits of a substance bind its feeders together: what one books, the next has less of
    commands: list[FeedCommand] = []
    after: list[Dispatch] = []
    opened: list[Debit] = []
    for feeder in site.feeders:
        before = dispatch[feeder.id]
        wish = willing.get(feeder.id)
        if wish is not None and feeder.lockout_group == group:
            limit = _less(tightest(objections[feeder.id]), taken_g.get(feeder.substance, 0.0))
            if _life_s(site, feeder, wish, _room_g(limit, ledger.of(feeder.id))) < LIFE_S_MIN:
                off, off_dispatch = _withhold(evidence, feeder, before, limit.why if limit else UNWANTED.because(evidence.now))
                commands.append(off)
                after.append(off_dispatch)
                continue
            granted = _grant(site, evidence, feeder, wish, limit, before, ledger)
            booked_g = sum(debit.reserved_g for debit in granted.opened)
            taken_g[feeder.substance] = taken_g.get(feeder.substance, 0.0) + booked_g
            ledger = granted.ledger
            opened.extend(granted.opened)
            commands.append(granted.command)
            after.append(granted.dispatch)
        else:
            why = refusals.get(feeder.id) or OTHER_GROUP.because(evidence.now, other=str(group))
            off, off_dispatch = _withhold(evidence, feeder, before, why)
            commands.append(off)
            after.append(off_dispatch)
    return Ruling(tuple(commands), tuple(after), ledger, tuple(opened))


def _less(limit: Limit | None, taken_g: float) -> Limit | None:
    """The limit after another feeder of the substance has booked so much in this step."""
    return limit if limit is None or taken_g <= 0.0 else replace(limit, mass_g=max(0.0, limit.mass_g - taken_g))


@dataclass(frozen=True, slots=True)
class _Grant:
    command: FeedOn
    dispatch: Dispatch
    ledger: Ledger
    opened: tuple[Debit, ...]


def _grant(
    site: Site, evidence: Evidence, feeder: Feeder, wish: Wish, limit: Limit | None, before: Dispatch, ledger: Ledger
) -> _Grant:
    """An ON, drawn on the open reservation, or on a new one where that holds too little for this command's life."""
    now_s = evidence.clock_s
    rate = feeder.rate_g_s * wish.level
    book = ledger.of(feeder.id)
    room_g = _room_g(limit, book)
    life_s = _life_s(site, feeder, wish, room_g)
    dead = now_s >= before.expires_at_s or book.open is None  # a short life is over before its renewal would be due
    due = not before.asked_on or dead or wish.level != before.level or now_s - before.renewed_s >= site.renew_s
    after = asked_on(before, now_s, wish.level, life_s if due else None)
    opened: tuple[Debit, ...] = ()
    if due:
        # The node may have got none of the last commands: until all of them are dead, the reservation holds what they can feed.
        alive_g = feeder.rate_g_s * after.level_s(now_s, after.expires_at_s)
        if book.open is not None and book.open.used_g + alive_g > book.open.reserved_g + 1e-9:
            # What ran until now is known by our own clock; all that may run from here on is in the next reservation.
            book = book.closed(now_s, book.open.used_g)
        if book.open is None:
            reserve_g = min(RESERVE_MG_L * site.pool.volume_m3, rate * RESERVE_S, wish.mass_g, room_g)
            debit = Debit(ledger.next_no, feeder.id, now_s, after.expires_at_s, max(reserve_g, alive_g))
            opened = (debit,)
            book = book.with_open(debit)
            ledger = Ledger(ledger.feeders, ledger.next_no + 1)
        ledger = ledger.with_feeder(book.drawn(0.0, after.expires_at_s))
    assert book.open is not None
    boot, valid_until_ms = _node_life(evidence, feeder, life_s)
    command = FeedOn(feeder.id, after.command_no, wish.level, life_s, book.open.no, boot, valid_until_ms, send=due)
    return _Grant(command, after, ledger, opened)


def _node_life(evidence: Evidence, feeder: Feeder, life_s: float) -> tuple[str | None, int | None]:
    """The node's boot and the counter value at which this command dies, by the node's own last report."""
    facts = evidence.feeders[feeder.id]
    if facts.node is None or facts.node_age_s is None:
        return None, None
    return facts.node.boot, facts.node.ms + int((facts.node_age_s + life_s) * 1000)


def _withhold(evidence: Evidence, feeder: Feeder, before: Dispatch, why: Reason) -> tuple[FeedOff, Dispatch]:
    """An OFF: at once when it was on, and again until the feedback agrees."""
    facts = evidence.feeders[feeder.id]
    after, repeat = asked_off(before, evidence.clock_s, facts.running)
    return FeedOff(feeder.id, after.command_no, why, repeat), after


def all_off(dispatch: tuple[Dispatch, ...], clock_s: float, why: Reason) -> tuple[tuple[FeedOff, ...], tuple[Dispatch, ...]]:
    """OFF for every feeder, whatever it was asked before: for shutdown and for a step that failed."""
    changed = tuple(asked_off(item, clock_s, None)[0] for item in dispatch)
    return tuple(FeedOff(item.feeder, item.command_no, why, repeat=True) for item in changed), changed
