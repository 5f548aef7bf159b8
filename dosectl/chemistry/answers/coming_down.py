"""Ways down from too much chlorine or too much stabiliser, as numbers; which one to take is for others to say."""

from collections.abc import Sequence
from dataclasses import dataclass

from dosectl.chemistry import chlorine, ranges
from dosectl.chemistry.answers import dechlorination
from dosectl.chemistry.answers.water import Water
from dosectl.chemistry.changes import dilution, losses
from dosectl.chemistry.changes.losses import Site


@dataclass(frozen=True, slots=True)
class WaysDown:
    """From a free chlorine to a lower one: wait, neutralise, or replace water.

    `levels_mg_l` is the predicted curve of waiting, one value a step. `wait_s` None: not within the light that was
    given. `neutraliser_g` is least, usual and most; give the least first and test again. `replace_m3` None: fill
    water holds more.
    """

    levels_mg_l: tuple[float, ...]
    wait_s: float | None
    neutraliser_g: tuple[float, float, float]
    replace_m3: float | None


def from_free_chlorine(
    water: Water,
    target_mg_l: float,
    *,
    uv: Sequence[float],
    step_s: float,
    site: Site,
    neutraliser: str = "thiosulfate_pentahydrate",
    fill_mg_l: float = 0.0,
) -> WaysDown:
    """The three ways. `uv` is the light to come, one value a step of `step_s`, as in `losses.curve_mg_l`.

    Raises ValueError when the target is not below what stands.
    """
    now = water.free_chlorine_mg_l
    if not 0.0 <= target_mg_l < now:
        raise ValueError(f"free chlorine = {target_mg_l!r} mg/L wanted: accepted is 0 to below {now:g} mg/L, what stands now")
    levels, _ = losses.curve_mg_l(now, water.cya_mg_l, water.ph, temp_c=water.temp_c, uv=uv, step_s=step_s, site=site)
    replace = None
    if fill_mg_l < target_mg_l:
        replace = dilution.water_to_replace_m3(now, target_mg_l, water.volume_m3, fill_mg_l)
    return WaysDown(
        levels_mg_l=tuple(levels),
        wait_s=losses.time_to_fall_s(levels, step_s, now, target_mg_l),
        neutraliser_g=dechlorination.neutraliser_g(neutraliser, now - target_mg_l, water.volume_m3),
        replace_m3=replace,
    )


@dataclass(frozen=True, slots=True)
class Stabiliser:
    """Whether a target of HOCl can be held below the upper limit, and the least water to replace if not.

    `free_chlorine_mg_l` holds the target with the stabiliser of now; `cya_mg_l_max` is the most at which it stays
    in the limit.
    """

    free_chlorine_mg_l: float
    limit_mg_l: float
    reachable: bool
    cya_mg_l_max: float
    replace_m3: float


def stabiliser_for(water: Water, hocl_target_mg_l: float, *, fill_cya_mg_l: float = 0.0) -> Stabiliser:
    """Is there too much stabiliser for this target? Raises ValueError when fill water holds too much of it as well."""
    wanted = ranges.HOCL.check(hocl_target_mg_l)
    needed = chlorine.free_chlorine_for_hocl(wanted, water.cya_mg_l, water.ph)
    limit = chlorine.upper_free_chlorine_limit_mg_l(water.cya_mg_l)
    most = _most_cya(wanted, water.ph)
    reachable = needed <= limit
    replace = 0.0
    if not reachable:
        replace = dilution.water_to_replace_m3(water.cya_mg_l, most, water.volume_m3, fill_cya_mg_l)
    return Stabiliser(needed, limit, reachable, most, replace)


def _most_cya(hocl: float, ph: float) -> float:
    """Most stabiliser at which the target fits under the limit, by halving. [mg/L]

    Chlorine needed rises with stabiliser by less than the limit does at first and passes it where the limit is
    level.
    """
    low, high = 0.0, ranges.CYANURIC_ACID.high

    def fits(cya: float) -> bool:
        return chlorine.free_chlorine_for_hocl(hocl, cya, ph) <= chlorine.upper_free_chlorine_limit_mg_l(cya)

    if fits(high):
        return high
    for step in range(int(high), 0, -1):
        if fits(float(step)):
            low, high = float(step), step + 1.0
            break
    else:
        return 0.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if fits(middle) else (low, middle)
    return low
