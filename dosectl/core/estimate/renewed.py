"""Fresh product in a container: part of what was learnt of the feeder was the old product's.

What arrives of a feed is the product of what stays (volume, pump or cell) and of what the container holds (strength as bought,
age, storage). The first lives on, the second is drawn anew; an estimate that is sure of a stale product doubles
the dose for days.
"""

from dataclasses import replace

from dosectl.core.estimate.filters import move_row, rows_of, triangle_of
from dosectl.core.estimate.state import EFFECT, Estimate, Hour

STAYS = 0.4  # of what was learnt, volume and pump; with 0.1 and 0.15 as the parts' doubts it is 0.3; own judgement
PRODUCT_LOG_SIGMA = 0.15  # hypochlorite as bought, weeks old; own judgement


def renewed(est: Estimate) -> Estimate:
    """The estimate with what arrives of a feed half forgotten, now and in every stored hour: a late test runs those again."""
    mean, cov = _renewed(est.mean, est.cov)
    return replace(
        est,
        mean=mean,
        cov=cov,
        hour=None if est.hour is None else _hour(est.hour),
        history=tuple(_hour(hour) for hour in est.history),
    )


def _hour(hour: Hour) -> Hour:
    mean, cov = _renewed(hour.mean, hour.cov)
    return replace(hour, mean=mean, cov=cov)


def _renewed(mean: tuple[float, ...], cov: tuple[float, ...]) -> tuple[tuple[float, ...], tuple[float, ...]]:
    after, p = list(mean), rows_of(cov)
    after[EFFECT] *= STAYS
    move_row(p, EFFECT, ((EFFECT, STAYS),))
    p[EFFECT][EFFECT] += PRODUCT_LOG_SIGMA**2
    return tuple(after), triangle_of(p)
