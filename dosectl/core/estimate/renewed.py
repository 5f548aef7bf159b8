"""Fresh product in a container: part of what was learnt of the feeder was the old product's.

What arrives of a feed is the product of what stays (volume, pump or cell) and of what the container holds (strength as bought,
age, storage). The first lives on, the second is drawn anew; an estimate that is sure of a stale product doubles
the dose for days.
"""

from dataclasses import replace

from dosectl.core.estimate.filters import move_row, rows_of, triangle_of
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import EFFECT, Estimate, Hour

STAYS = 0.4  # of what was learnt: volume and pump. By the parts' doubts of 0.15 and 0.2; own judgement


def renewed(est: Estimate, params: EstimateParams) -> Estimate:
    """The estimate with what arrives of a feed half forgotten, now and in every stored hour: a late test runs those again."""
    mean, cov = _renewed(est.mean, est.cov, params)
    return replace(
        est,
        mean=mean,
        cov=cov,
        hour=None if est.hour is None else _hour(est.hour, params),
        history=tuple(_hour(hour, params) for hour in est.history),
    )


def _hour(hour: Hour, params: EstimateParams) -> Hour:
    mean, cov = _renewed(hour.mean, hour.cov, params)
    return replace(hour, mean=mean, cov=cov)


def _renewed(
    mean: tuple[float, ...], cov: tuple[float, ...], params: EstimateParams
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    after, p = list(mean), rows_of(cov)
    after[EFFECT] *= STAYS
    move_row(p, EFFECT, ((EFFECT, STAYS),))
    p[EFFECT][EFFECT] += params.product_log_sigma**2
    return tuple(after), triangle_of(p)
