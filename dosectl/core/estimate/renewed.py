"""Fresh product in a container: part of what was learnt of the feeder was the old product's.

What arrives of a feed is the product of what stays (volume, pump or cell) and of what the container holds (strength as bought,
age, storage). The first lives on, the second is drawn anew; an estimate that is sure of a stale product doubles
the dose for days.
"""

from dosectl.core.estimate.filters import Rows, move_row
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import EFFECT

STAYS = 0.4  # of what was learnt: volume and pump. By the parts' doubts of 0.15 and 0.2; own judgement


def fresh_product(mean: list[float], p: Rows, params: EstimateParams) -> None:
    """What arrives of a feed half forgotten, in place."""
    mean[EFFECT] *= STAYS
    move_row(p, EFFECT, ((EFFECT, STAYS),))
    p[EFFECT][EFFECT] += params.product_log_sigma**2
