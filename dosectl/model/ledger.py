"""The dose ledger: what was reserved and what was fed, in grams, over any rolling window.

Debit before dose: a reservation is on the disk before its first ON leaves. A crash counts it in full. The unused part is booked
back only on a metered OFF. An entry counts from its opening until its closing time has left the window, so that a window is never
under-counted. Times are plant-clock seconds: they grow with the monotonic clock and across stops only by trusted off-time.
"""

from bisect import bisect_left
from collections.abc import Mapping
from dataclasses import dataclass, replace

from dosectl.model.feeds import FeederId, Substance


@dataclass(frozen=True, slots=True)
class Debit:
    """One reservation.

    reserved_g : booked when it was opened [g]; used_g : drawn by renewals so far, at most `reserved_g` [g]
    opened_s, last_s : plant clock at opening and at the last moment it may have fed [s]
    """

    no: int
    feeder: FeederId
    opened_s: float
    last_s: float
    reserved_g: float
    used_g: float = 0.0


@dataclass(frozen=True, slots=True)
class FeederLedger:
    """All that one feeder was granted. `times_s` and `totals_g` are parallel: closing time and running total of closed entries.

    base_g : the running total before the first kept entry; `open` : the reservation in use, at most one.
    known_from_s : plant clock before which entries were forgotten; a window that reaches further back counts all ever fed
    substance : what it feeds; None for a feeder of an older record that left the settings, and then it counts for every one.
    """

    feeder: FeederId
    times_s: tuple[float, ...] = ()
    totals_g: tuple[float, ...] = ()
    base_g: float = 0.0
    open: Debit | None = None
    substance: Substance | None = None
    known_from_s: float = float("-inf")

    @property
    def closed_g(self) -> float:
        """Everything ever fed in closed entries [g]."""
        return self.totals_g[-1] if self.totals_g else self.base_g

    @property
    def total_g(self) -> float:
        """Everything ever booked, the open reservation in full [g]."""
        return self.closed_g + (self.open.reserved_g if self.open else 0.0)

    def window_g(self, now_s: float, window_s: float) -> float:
        """Mass that may have been fed in the last `window_s` seconds [g]; the open reservation counts in full.

        Never too little: a window that begins before the oldest entry that is still known counts what was forgotten too.
        """
        if now_s - window_s < self.known_from_s:
            return self.total_g
        index = bisect_left(self.times_s, now_s - window_s)
        before = self.totals_g[index - 1] if index else self.base_g
        return self.total_g - before

    def last_fed_s(self) -> float | None:
        """Plant clock at the last moment this feeder may have fed [s], None before the first feed."""
        if self.open is not None:
            return self.open.last_s
        return self.times_s[-1] if self.times_s else None

    def bound_to(self) -> Substance | None:
        """What this name stands for, once anything was booked under it; None before that, or where an older record is silent."""
        return None if self.last_fed_s() is None and self.total_g == 0.0 else self.substance

    def with_open(self, debit: Debit) -> "FeederLedger":
        """Opens a reservation. Raises ValueError while another one is open: close it first."""
        if self.open is not None:
            raise ValueError(f"{self.feeder}: reservation {self.open.no} is still open")
        return replace(self, open=debit)

    def drawn(self, used_g: float, last_s: float) -> "FeederLedger":
        """The open reservation with its drawn mass and last moment brought forward; never backward, never past what it holds."""
        if self.open is None:
            raise ValueError(f"{self.feeder}: no reservation is open")
        used = min(max(used_g, self.open.used_g), self.open.reserved_g)
        return replace(self, open=replace(self.open, used_g=used, last_s=max(last_s, self.open.last_s)))

    def closed(self, at_s: float, fed_g: float | None) -> "FeederLedger":
        """Closes the open reservation: with what a metered OFF proved [g], or None to book all of it.

        The mass is clamped to what was reserved and never below zero.
        """
        if self.open is None:
            return self
        debit = self.open
        mass = debit.reserved_g if fed_g is None else min(max(fed_g, 0.0), debit.reserved_g)
        closing = max(at_s, debit.last_s, self.times_s[-1] if self.times_s else at_s)
        return replace(self, times_s=(*self.times_s, closing), totals_g=(*self.totals_g, self.closed_g + mass), open=None)

    def forgetting(self, before_s: float) -> "FeederLedger":
        """Without entries that closed before `before_s`; totals stay what they are."""
        index = bisect_left(self.times_s, before_s)
        if index == 0:
            return self
        kept, totals = self.times_s[index:], self.totals_g[index:]
        return replace(self, times_s=kept, totals_g=totals, base_g=self.totals_g[index - 1], known_from_s=before_s)


@dataclass(frozen=True, slots=True)
class Ledger:
    """One FeederLedger per feeder, also of those that left the settings, and the number the next reservation gets."""

    feeders: tuple[FeederLedger, ...]
    next_no: int = 1

    def of(self, feeder: FeederId) -> FeederLedger:
        """The feeder's ledger. Raises KeyError for an unknown feeder."""
        for entry in self.feeders:
            if entry.feeder == feeder:
                return entry
        raise KeyError(feeder)

    def with_feeder(self, changed: FeederLedger) -> "Ledger":
        """With one feeder's ledger replaced."""
        return replace(self, feeders=tuple(changed if f.feeder == changed.feeder else f for f in self.feeders))

    def misnamed(self, feeds: Mapping[FeederId, Substance]) -> tuple[tuple[FeederId, Substance], ...]:
        """Names that stand for another substance than `feeds` would have them feed, each with what was fed under it.

        There is one book a name: its mass would move to the other substance's limits, or what is fed from now on would not count.
        """
        bound = ((book.feeder, book.bound_to()) for book in self.feeders)
        return tuple((name, fed) for name, fed in bound if fed is not None and feeds.get(name, fed) is not fed)

    def window_g(self, substance: Substance, now_s: float, window_s: float) -> float:
        """Mass of a substance that may have been fed in the last `window_s` seconds [g], whatever its feeders are called now."""
        total_g = 0.0
        for book in self.feeders:
            if book.substance is substance or book.substance is None:
                total_g += book.window_g(now_s, window_s)
        return total_g

    def total_g(self, substance: Substance) -> float:
        """Mass of a substance ever booked [g]."""
        return sum(book.total_g for book in self.feeders if book.substance is substance or book.substance is None)
