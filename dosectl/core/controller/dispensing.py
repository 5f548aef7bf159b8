"""A feed that a person asked for at the plant: so many seconds of full output, judged by every guard, nothing else beside it."""

from dataclasses import dataclass

from dosectl.core.evidence import Evidence
from dosectl.core.requests.changes import Dispense
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId, Origin, Wish
from dosectl.model.ledger import FeederLedger, Ledger
from dosectl.model.reasons import Code, Reason, ReasonKind

GRACE_S = 60.0  # what could not begin or end within this after its time is over: a later feed is a new request

DISPENSING = ReasonKind(Code("dispense.running"), "Asked at the plant to run {seconds} s; {left_s} s are left.")
BESIDE = ReasonKind(Code("dispense.beside"), "Nothing else is fed while {feeder} dispenses.")
REASONS = (DISPENSING, BESIDE)


@dataclass(frozen=True, slots=True)
class Dispensing:
    """One such feed.

    total_g : what the feeder's ledger shows when it is done; until_s : plant clock at which it is over anyhow
    """

    feeder: FeederId
    seconds: float
    total_g: float
    until_s: float


def _fed_g(book: FeederLedger) -> float:
    return book.closed_g + (book.open.used_g if book.open is not None else 0.0)


def begun(site: Site, change: Dispense, ledger: Ledger, clock_s: float) -> Dispensing:
    """A granted request's feed, not yet judged."""
    total_g = _fed_g(ledger.of(change.feeder)) + site.feeder(change.feeder).rate_g_s * change.seconds
    return Dispensing(change.feeder, change.seconds, total_g, clock_s + change.seconds + GRACE_S)


def going_on(now: Dispensing | None, site: Site, ledger: Ledger, clock_s: float) -> Dispensing | None:
    """The feed while something of it is left and its time is not over."""
    if now is None or clock_s >= now.until_s:
        return None
    left_g = now.total_g - _fed_g(ledger.of(now.feeder))
    return now if left_g > 0.5 * site.feeder(now.feeder).rate_g_s else None


def wish_for(now: Dispensing, evidence: Evidence) -> tuple[Wish, dict[FeederId, Reason]]:
    """The wish, and why every other feeder rests."""
    rate_g_s = evidence.site.feeder(now.feeder).rate_g_s
    left_g = now.total_g - _fed_g(evidence.ledger.of(now.feeder))
    why = DISPENSING.because(evidence.now, seconds=now.seconds, left_s=round(left_g / rate_g_s))
    beside = BESIDE.because(evidence.now, feeder=str(now.feeder))
    others = {feeder.id: beside for feeder in evidence.site.feeders if feeder.id != now.feeder}
    return Wish(now.feeder, Origin.DISPENSE, 1.0, left_g, why), others
