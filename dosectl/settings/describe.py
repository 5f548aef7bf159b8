"""What the settings mean for the water, in mg/L and pH: shown by `dosectl check` before anything runs."""

from collections.abc import Iterator

from dosectl.chemistry.carbonate import ph_after_acid
from dosectl.chemistry.chlorine import upper_free_chlorine_limit_mg_l
from dosectl.core.control.params import ControlParams
from dosectl.core.control.target import band, share_of_stabiliser
from dosectl.core.site import SALT_WATER_G_L, Feeder, Site
from dosectl.model.feeds import Substance
from dosectl.settings.advice import CONNECTED_ACID_SHARE, advised_acid_l, connected_acid_mg_l
from dosectl.settings.checks.feeding import HOURLY_MG_L_MAX

START_PH = 7.5
USUAL_DEMAND_MG_L_DAY = 3.0  # a sunny day of a stabilised home pool; common practice
USUAL_FREE_CHLORINE_MG_L = 3.0


def implications(site: Site, control: ControlParams) -> tuple[str, ...]:
    """One line per fact, in reading order: the pool, then each feeder."""
    lines = [*_pool_lines(site, control)]
    for feeder in site.feeders:
        lines += _chlorine_lines(feeder, site) if feeder.substance is Substance.CHLORINE else _acid_lines(feeder, site)
    return tuple(lines)


def _pool_lines(site: Site, control: ControlParams) -> Iterator[str]:
    pool = site.pool
    limit = upper_free_chlorine_limit_mg_l(pool.stabiliser_mg_l)
    yield f"{pool.name}: {pool.volume_m3:g} m3; 1 mg/L is {pool.volume_m3:g} g of chlorine."
    aim_mg_l, share = band(site, control, pool.stabiliser_mg_l).mg_l, 100.0 * share_of_stabiliser(site, control)
    kind = "salt water" if pool.salt_water else f"less than {SALT_WATER_G_L:g} g/L of salt"
    bounds = f"at least {control.target_mg_l_min:g} and at most {control.target_mg_l_max:g}"
    yield f"Target: {aim_mg_l:.1f} mg/L of free chlorine ({share:.2g} % of the stabiliser, as {kind}; {bounds})."
    yield f"Upper free chlorine at {pool.stabiliser_mg_l:g} mg/L of stabiliser: {limit:.1f} mg/L."


def _chlorine_lines(feeder: Feeder, site: Site) -> Iterator[str]:
    volume_m3 = site.pool.volume_m3
    full, bound = feeder.rate_g_s * 3600.0 / volume_m3, feeder.hourly_cap_g / volume_m3
    ceiling = HOURLY_MG_L_MAX[Substance.CHLORINE]
    yield f"{feeder.id}: full output {full:.2f} mg/L an hour{_bound_words(full, bound)} (bound {ceiling:g})."
    running_h, within_h = USUAL_DEMAND_MG_L_DAY / full, USUAL_DEMAND_MG_L_DAY / bound
    spread = f", spread over at least {_duration(within_h)} by its cap" if bound < full * (1 - 1e-9) else ""
    yield f"{feeder.id}: runs {_duration(running_h)} for {USUAL_DEMAND_MG_L_DAY:g} mg/L, what a sunny day takes{spread}."
    if within_h > 24.0:
        yield f"{feeder.id}: it can't replace that in a day. Fit a larger one, or expect low chlorine in hot weather."
    limit = upper_free_chlorine_limit_mg_l(site.pool.stabiliser_mg_l)
    if limit > USUAL_FREE_CHLORINE_MG_L:
        span = f"from {USUAL_FREE_CHLORINE_MG_L:g} to {limit:.1f} mg/L"
        yield f"{feeder.id}: stuck on at its bound, it takes {_duration((limit - USUAL_FREE_CHLORINE_MG_L) / bound)} {span}."
    if feeder.kind == "pump":
        grams = feeder.container_ml / feeder.ml_per_g
        yield (
            f"{feeder.id}: {feeder.strength_text}; a full container of {feeder.container_ml / 1000.0:g} L is {grams:.0f} g, "
            f"{grams / volume_m3:.0f} mg/L or {grams / volume_m3 / USUAL_DEMAND_MG_L_DAY:.0f} such days."
        )


def _acid_lines(feeder: Feeder, site: Site) -> Iterator[str]:
    pool = site.pool
    full, bound = feeder.rate_g_s * 3600.0 / pool.volume_m3, feeder.hourly_cap_g / pool.volume_m3
    yield (
        f"{feeder.id}: full output {full:.2f} mg/L of alkalinity an hour{_bound_words(full, bound)} "
        f"(bound {HOURLY_MG_L_MAX[Substance.ACID]:g})."
    )
    fall = f"pH {START_PH} to {_ph_words(bound, site)}"
    yield f"{feeder.id}: an hour at that bound takes {fall} at alkalinity {pool.alkalinity_mg_l:g} mg/L."
    held, advised = connected_acid_mg_l(feeder, site), advised_acid_l(feeder, site)
    share = held / pool.alkalinity_mg_l
    yield (
        f"{feeder.id}: {feeder.strength_text}; a full container of {feeder.container_ml / 1000.0:g} L takes {held:.0f} mg/L, "
        f"{100.0 * share:.0f} % of the alkalinity: all of it at once would take pH {START_PH} to {_ph_words(held, site)}."
    )
    if share > CONNECTED_ACID_SHARE:
        limit = f"{advised:.2g} L, {100.0 * CONNECTED_ACID_SHARE:.0f} % of the alkalinity"
        yield f"{feeder.id}: connect at most {limit}, in a smaller container."


def _bound_words(full: float, bound: float) -> str:
    return f", held to {bound:.2f} by its cap" if bound < full * (1 - 1e-9) else ""


def _ph_words(acid_mg_l: float, site: Site) -> str:
    pool = site.pool
    try:
        ph = ph_after_acid(
            pool.alkalinity_mg_l,
            pool.stabiliser_mg_l,
            START_PH,
            acid_mg_l,
            borate_b_mg_l=pool.borate_b_mg_l,
            salt_g_l=pool.salt_g_l,
        )
    except ValueError:
        return "below 4"
    return f"{ph:.2f}" if ph >= 4.0 else "below 4"


def _duration(hours: float) -> str:
    return f"{hours:.1f} h" if hours >= 1.0 else f"{60.0 * hours:.0f} min"
