"""A change of belief that holds for the hours before as well."""

from collections.abc import Callable
from dataclasses import replace

from dosectl.core.estimate.filters import Rows, rows_of, triangle_of
from dosectl.core.estimate.state import Estimate, Hour

Change = Callable[[list[float], Rows], object]
"""Of mean and covariance, in place."""


def everywhere(est: Estimate, change: Change) -> Estimate:
    """The change made now and in every stored hour: a late test runs those again and must not bring the old figure back."""
    mean, cov = _changed(est, change)
    hour = None if est.hour is None else _changed_hour(est.hour, change)
    return replace(est, mean=mean, cov=cov, hour=hour, history=tuple(_changed_hour(old, change) for old in est.history))


def _changed_hour(hour: Hour, change: Change) -> Hour:
    mean, cov = _changed(hour, change)
    return replace(hour, mean=mean, cov=cov)


def _changed(held: Estimate | Hour, change: Change) -> tuple[tuple[float, ...], tuple[float, ...]]:
    mean, p = list(held.mean), rows_of(held.cov)
    change(mean, p)
    return tuple(mean), triangle_of(p)
