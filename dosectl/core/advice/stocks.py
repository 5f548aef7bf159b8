"""What is left in the containers, as the record since each refill tells it, and how it goes while it is fed."""

from dataclasses import dataclass
from math import inf

from dosectl.core.control.params import ControlParams
from dosectl.core.control.pulses import steady_g_s
from dosectl.core.evidence import Standing
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import FeederId
from dosectl.model.ledger import Ledger

SPENT_MG_L = 1e-6


def left_ml(feeder: Feeder, standing: Standing, ledger: Ledger, clock_s: float) -> float | None:
    """What a container holds by its last refill and what was fed since, at least 0 [mL]; None where no refill was entered."""
    refill = next((item for item in standing.refills if item[0] == feeder.id), None)
    if refill is None:
        return None
    _, at_s, volume_ml = refill
    used_g = ledger.of(feeder.id).window_g(clock_s, clock_s - at_s)
    return max(volume_ml - feeder.ml_per_g * used_g, 0.0)


def usable_mg_l(
    site: Site, standing: Standing, ledger: Ledger, clock_s: float, unreached_share: float
) -> tuple[tuple[FeederId, float], ...]:
    """What each container with a refill on record can still bring into the pool [mg/L by the label].

    unreached_share : of a container with a level, what stays in it: there the interlock takes it as empty
    """
    found: list[tuple[FeederId, float]] = []
    for feeder in site.feeders:
        left = left_ml(feeder, standing, ledger, clock_s) if feeder.ml_per_g > 0.0 else None
        if left is not None:
            unreached = unreached_share * feeder.container_ml if feeder.level is not None else 0.0
            found.append((feeder.id, max(0.0, left - unreached) / feeder.ml_per_g / site.pool.volume_m3))
    return tuple(found)


@dataclass(slots=True)
class Stocks:
    """The feeders of a substance that feed together, and what each has left. Changes as it is drawn from.

    rates_mg_l_h : of each that may feed, a pump's waits counted; left_mg_l : what is left for it, without end where not in here
    """

    rates_mg_l_h: dict[FeederId, float]
    left_mg_l: dict[FeederId, float]

    @classmethod
    def of(
        cls, site: Site, control: ControlParams, feeders: tuple[FeederId, ...], left_mg_l: tuple[tuple[FeederId, float], ...]
    ) -> "Stocks":
        """Of these feeders alone."""
        volume_m3 = site.pool.volume_m3
        rates = {feeder: steady_g_s(control, site.feeder(feeder), volume_m3) * 3600.0 / volume_m3 for feeder in feeders}
        return cls(rates, {feeder: left for feeder, left in left_mg_l if feeder in feeders})

    def hour_mg_l(self, share: float) -> float:
        """The most that they give in an hour, of which a share can be used. [mg/L]"""
        return sum(min(share * rate, self.left_mg_l.get(feeder, inf)) for feeder, rate in self.rates_mg_l_h.items())

    def draw(self, mg_l: float) -> None:
        """Takes what is fed in an hour, from each by its rate; what one lacks the others give."""
        rest, together = mg_l, sum(self.rates_mg_l_h.values())
        by_time_left = sorted(self.rates_mg_l_h.items(), key=lambda item: self.left_mg_l.get(item[0], inf) / item[1])
        for feeder, rate in by_time_left:
            left = self.left_mg_l.get(feeder, inf)
            part = min(left, rest * rate / together)
            if feeder in self.left_mg_l:
                self.left_mg_l[feeder] = left - part if left - part > SPENT_MG_L else 0.0
            rest, together = rest - part, together - rate

    @property
    def feeds(self) -> bool:
        """Whether any of them has something to feed."""
        return any(self.left_mg_l.get(feeder, inf) > 0.0 for feeder in self.rates_mg_l_h)

    @property
    def empty(self) -> tuple[FeederId, ...]:
        """Those with nothing left."""
        return tuple(feeder for feeder, left in self.left_mg_l.items() if left <= 0.0)
