"""What is due to whom now: first calls, repeats, the second person, the all-clear. Pure: outbox and time in, dues out.

Delays and repeats are proposed figures: a phone that rings each half hour for what waits till the morning is a phone on mute.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, time, timedelta, tzinfo

from dosectl.model.call_log import Attempt, OpenCall, Outcome
from dosectl.settings.notify import Person, RouteAddress

CRITICAL, HIGH, MEDIUM, LOW = 4, 3, 2, 1
OVER = -1
"""The step of a call's all-clear."""
TEST = "test"
LINE = "line"
ONCE = (LINE,)
"""Messages that need no answer: sent once. The summary of a flood is none of them: nothing else calls what it stands for."""
AGES_OUT = timedelta(hours=24)
MINUTE = timedelta(minutes=1)
HOUR = timedelta(hours=1)
DIGEST_AT = time(8, 0)


@dataclass(frozen=True, slots=True)
class Due:
    """One step of a call that one route of one person should carry now."""

    call: OpenCall
    step: int
    person: Person
    route: RouteAddress


@dataclass(frozen=True, slots=True)
class Closing:
    """A call of which nothing more is to be sent."""

    call: OpenCall
    why: str


def quiet(person: Person, now: datetime, zone: tzinfo) -> bool:
    """Whether the wall clock at the pool shows this person's quiet hours, also in a night with an hour twice or none."""
    clock = now.astimezone(zone).time()
    if person.quiet_from <= person.quiet_to:
        return person.quiet_from <= clock < person.quiet_to
    return clock >= person.quiet_from or clock < person.quiet_to


def first_after(call: OpenCall, rank: int, away: bool) -> timedelta | None:
    """How long after the call the person of this rank (0 is the first) is called; None: not at all."""
    if call.change in ONCE:
        return timedelta() if rank == 0 else None
    if call.change == TEST:
        return timedelta()
    match call.priority:
        case 4:
            return timedelta() if rank < 2 else 30 * MINUTE
        case 3:
            return (timedelta(), HOUR if away else 2 * HOUR, 4 * HOUR)[min(rank, 2)]
        case 2:
            return timedelta() if rank == 0 else 24 * HOUR if away else None
        case 1:
            return timedelta() if rank == 0 else None
        case _:
            return None


def repeat_after(call: OpenCall, person: Person, now: datetime, zone: tzinfo) -> timedelta | None:
    """How long after a step the next one is due while nobody answers; None: never."""
    age = now - call.at
    if call.change in ONCE or call.priority <= LOW:
        return None
    if call.change == TEST:
        return 24 * HOUR
    if call.priority == CRITICAL:
        return 5 * MINUTE if age < 30 * MINUTE else 30 * MINUTE if age < AGES_OUT else 2 * HOUR
    if call.priority == HIGH:
        return 12 * HOUR if age >= AGES_OUT else 2 * HOUR if quiet(person, now, zone) else 30 * MINUTE
    return 12 * HOUR


def waits(call: OpenCall, person: Person, now: datetime, zone: tzinfo) -> bool:
    """What is not grave waits for the end of the quiet hours, what is low for the morning's digest."""
    if call.priority >= HIGH:
        return False
    if call.priority == LOW and call.change != LINE:
        local = now.astimezone(zone)
        morning = local.replace(hour=DIGEST_AT.hour, minute=0, second=0, microsecond=0, fold=0)
        if call.at > morning.astimezone(call.at.tzinfo) or local < morning:
            return True
    return quiet(person, now, zone)


def routes_of(call: OpenCall, person: Person, failing: frozenset[str], step: int = 0) -> tuple[RouteAddress, ...]:
    """All routes for what is grave, else one that works: another at each repeat, as one may take all and deliver nothing."""
    if call.priority == CRITICAL:
        return (*person.routes, *person.urgent_routes)
    if call.priority == HIGH or call.change == TEST:
        return person.routes
    working = tuple(route for route in person.routes if route_key(person, route) not in failing)
    usable = working or person.routes
    return (usable[step % len(usable)],)


def route_key(person: Person, route: RouteAddress) -> str:
    """Name of a route in the record."""
    return f"{person.id}/{route.name}"


def dues(
    calls: Iterable[OpenCall],
    attempts: Iterable[Attempt],
    persons: tuple[Person, ...],
    now: datetime,
    zone: tzinfo,
    *,
    away: bool = False,
    failing: frozenset[str] = frozenset(),
) -> tuple[tuple[Due, ...], tuple[Closing, ...]]:
    """What to send now, in the order of the calls, and which calls are over.

    failing : keys of routes that have just failed often. An attempt without a known end is due again at once.
    """
    tried: dict[int, list[Attempt]] = {}
    for attempt in attempts:
        tried.setdefault(attempt.call_id, []).append(attempt)
    found: list[Due] = []
    closing: list[Closing] = []
    for call in calls:
        mine = tried.get(call.id, [])
        taken = {(item.step, item.person, item.route): item.begun for item in mine if item.outcome is Outcome.TAKEN}
        why = _over(call, taken, now)
        if why is not None:
            closing.append(Closing(call, why))
            continue
        if call.cleared is not None:
            found += _all_clear(call, taken, persons, now, zone, failing)
        elif call.answered is None:
            for rank, person in enumerate(persons):
                found += _step(call, mine, taken, person, first_after(call, rank, away), now, zone, failing)
    return tuple(found), tuple(closing)


Taken = Mapping[tuple[int, str, str], datetime]


def _over(call: OpenCall, taken: Taken, now: datetime) -> str | None:
    """Why nothing more is to be sent, None while something may be. A call whose alarm stands never ages out."""
    if call.priority < LOW and call.change not in (TEST, *ONCE):
        return "notice"
    if call.cleared is not None:
        reached = {(person, route) for step, person, route in taken if step != OVER}
        told = {(person, route) for step, person, route in taken if step == OVER}
        if told and reached <= told:
            return "over"
        return "aged" if now - call.cleared >= AGES_OUT else None
    if call.change in ONCE:
        return "sent" if taken else "aged" if now - call.at >= AGES_OUT else None
    if call.change == TEST:
        return "answered" if call.answered else "aged" if now - call.at >= 7 * AGES_OUT else None
    return None


def _all_clear(
    call: OpenCall, taken: Taken, persons: tuple[Person, ...], now: datetime, zone: tzinfo, failing: frozenset[str]
) -> list[Due]:
    """Once on each route that carried the call; where none did, one word to the first person that it was."""
    found: list[Due] = []
    reached = {(person, route) for step, person, route in taken if step != OVER}
    for rank, person in enumerate(persons):
        if waits(call, person, now, zone):
            continue
        for route in (*person.routes, *person.urgent_routes):
            was = (person.id, route.name) in reached or (
                not reached and rank == 0 and route in routes_of(call, person, failing)[:1]
            )
            if was and (OVER, person.id, route.name) not in taken:
                found.append(Due(call, OVER, person, route))
    return found


def _step(
    call: OpenCall,
    mine: list[Attempt],
    taken: Taken,
    person: Person,
    after: timedelta | None,
    now: datetime,
    zone: tzinfo,
    failing: frozenset[str],
) -> list[Due]:
    """The step that is current for this person: routes that have not carried it yet, or all of them where the next one is due."""
    if after is None or now - call.at < after or waits(call, person, now, zone):
        return []
    steps = [item.step for item in mine if item.person == person.id and item.step != OVER]
    step = max(steps, default=0)
    begun = [at for (number, who, _), at in taken.items() if number == step and who == person.id]
    repeat = repeat_after(call, person, now, zone)
    if begun and repeat is not None and now - min(begun) >= repeat:
        step, begun = step + 1, []
    routes = routes_of(call, person, failing, step)
    if begun and len(routes) == 1 and call.priority < HIGH:
        return []  # one route is enough, and another has carried it
    return [Due(call, step, person, route) for route in routes if (step, person.id, route.name) not in taken]
