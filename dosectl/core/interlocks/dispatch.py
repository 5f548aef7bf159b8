"""What was asked of each feeder last, and what it may have fed since: the bridge between commands and the ledger."""

from dataclasses import dataclass, replace

from dosectl.core.site import Feeder
from dosectl.model.feeds import FeederId
from dosectl.model.ledger import Debit, Ledger

REPEAT_OFF_S = 1.0  # an OFF is said again this often until the feedback agrees
METERED_GRACE_S = (
    15.0  # metered feedback may come so late after the last command is dead; until then the reservation stands in full
)
UNMETERED_OFF_REPEATS = 3  # without feedback nobody can agree: say it so often and rely on expiry


@dataclass(frozen=True, slots=True)
class Dispatch:
    """One feeder's last asking. Working state: after a restart everything was asked off.

    since_s : plant clock since which the present asking holds; renewed_s : of the last ON sent
    expires_at_s : when the last ON's life ends by itself; an OFF does not shorten it until the feedback agrees
    level : of the last ON; alive : (level, end) of each ON that may still live: one that replaces it may have got lost
    off_said_s, off_count : the last OFF said and how often
    """

    feeder: FeederId
    asked_on: bool = False
    since_s: float = 0.0
    renewed_s: float = 0.0
    expires_at_s: float = 0.0
    level: float = 1.0
    command_no: int = 0
    off_said_s: float = -1e9
    off_count: int = 0
    alive: tuple[tuple[float, float], ...] = ()

    def level_s(self, from_s: float, now_s: float) -> float:
        """Seconds of full output that the commands still alive can feed in [from_s, now_s]: at each moment the highest level."""
        total_s, reached_s = 0.0, from_s
        for level, end_s in sorted(self.alive, reverse=True):
            until_s = min(end_s, now_s)
            if until_s > reached_s:
                total_s += level * (until_s - reached_s)
                reached_s = until_s
        return total_s


def asked_on(before: Dispatch, now_s: float, level: float, life_s: float | None) -> Dispatch:
    """After an ON: renewed with a life [s], or (None) standing between renewals."""
    if life_s is None:
        return before
    end_s = now_s + life_s
    # A command that gets lost leaves the one before it alive: until the later of both ends, at the higher level, it may run.
    older = tuple((lv, end) for lv, end in before.alive if end > now_s and (lv > level or end > end_s))
    return replace(
        before,
        asked_on=True,
        since_s=before.since_s if before.asked_on else now_s,
        renewed_s=now_s,
        expires_at_s=max(end_s, *(end for _, end in older)) if older else end_s,
        alive=(*older, (level, end_s)),
        level=level,
        command_no=before.command_no + 1,
        off_count=0,
    )


def asked_off(before: Dispatch, now_s: float, running: bool | None) -> tuple[Dispatch, bool]:
    """After an OFF, and whether it must be said on the wire now: at once on the change, then until the feedback agrees."""
    if before.asked_on:
        return (
            replace(before, asked_on=False, since_s=now_s, command_no=before.command_no + 1, off_said_s=now_s, off_count=1),
            True,
        )
    agrees = running is False or (running is None and before.off_count >= UNMETERED_OFF_REPEATS)
    if agrees or now_s - before.off_said_s < REPEAT_OFF_S:
        return before, False
    return replace(before, command_no=before.command_no + 1, off_said_s=now_s, off_count=before.off_count + 1), True


def may_have_run_s(feeder: Feeder, dispatch: Dispatch, running: bool | None, from_s: float, now_s: float) -> float:
    """Seconds of [from_s, now_s] in which the feeder may have run.

    Running by feedback counts in full. Asked on counts until the command's own end, whatever the feedback says: what is not
    acknowledged is not undelivered. Asked off counts until the metered feedback shows off or the command's life is over; an OFF
    that was lost may have been followed by the rest of that life before the first look after it, so a second of it counts.
    """
    if running:
        return now_s - from_s
    alive_s = max(0.0, min(now_s, dispatch.expires_at_s) - from_s)
    if dispatch.asked_on:
        return alive_s
    if running is False and feeder.metered:
        return min(alive_s, REPEAT_OFF_S) if dispatch.since_s >= from_s else 0.0
    return alive_s


def draw(
    feeder: Feeder, dispatch: Dispatch, running: bool | None, from_s: float, now_s: float, ledger: Ledger
) -> tuple[Ledger, float]:
    """The ledger after the time since the last step, and the mass that may have been fed in it [g].

    Mass that nobody asked for (a feeder that runs though it was asked off) is booked like any other: limits must see it.
    An idle reservation is closed: with what a metered OFF proved, else in full.
    """
    ran_s = may_have_run_s(feeder, dispatch, running, from_s, now_s)
    fed_s = dispatch.level_s(from_s, now_s) if ran_s > 0.0 else 0.0
    if running:  # past the end of every command nobody asked for it, so its level is nobody's either: all of it counts
        fed_s += max(0.0, now_s - max(from_s, dispatch.expires_at_s))
    mass_g = fed_s * feeder.rate_g_s
    book = ledger.of(feeder.id)
    if mass_g > 0.0:
        left_g = mass_g
        if book.open is not None:
            fits_g = min(left_g, book.open.reserved_g - book.open.used_g)
            book = book.drawn(book.open.used_g + fits_g, now_s)
            left_g -= fits_g
        if left_g > 1e-9:
            book = book.closed(now_s, None)
            book = book.with_open(Debit(ledger.next_no, feeder.id, from_s, now_s, left_g, left_g)).closed(now_s, left_g)
            ledger = Ledger(ledger.feeders, ledger.next_no + 1)
        return ledger.with_feeder(book), mass_g
    if book.open is not None and not dispatch.asked_on:
        over = now_s >= dispatch.expires_at_s + (METERED_GRACE_S if feeder.metered else 0.0)
        if running is False and feeder.metered:
            return ledger.with_feeder(book.closed(now_s, book.open.used_g)), 0.0
        if over:
            return ledger.with_feeder(book.closed(now_s, None)), 0.0
    return ledger, 0.0
