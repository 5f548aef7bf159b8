"""All kinds of guards, in the order in which a person would check them. A new guard is one file and one line here."""

from collections.abc import Mapping
from typing import Any

from dosectl.core.interlocks.guard import Guard, GuardKind
from dosectl.core.interlocks.guards import (
    acid_budget,
    acid_response,
    bus_echo,
    cell_power,
    change_unfed,
    chlorine_response,
    clock_doubt,
    cold_water,
    config_confirm,
    container_level,
    cover_closed,
    dispense_limit,
    ending,
    feeder_runs,
    feeder_still,
    feeder_unseen,
    flow_gas,
    flow_honesty,
    flow_proven,
    flow_settle,
    high_chlorine,
    high_orp,
    high_ph,
    high_tested,
    kit_contradicted,
    lockout,
    lockout_both,
    low_ph,
    mass_day,
    mass_hour,
    mass_learned,
    mass_single,
    message_order,
    mixing_wait,
    node_online,
    owner_foreign,
    probe_agreement,
    probe_glass,
    probe_liveness,
    probe_sample,
    probe_validity,
    proof_gate,
    queue_age,
    record_gap,
    record_store,
    salt_level,
    start_hold,
    stop_manual,
    stop_service,
    water_path,
    wrong_way,
)
from dosectl.core.site import Site
from dosectl.model.reasons import Code

KINDS: tuple[GuardKind, ...] = (
    ending.KIND,
    stop_manual.KIND,
    stop_service.KIND,
    flow_proven.KIND,
    flow_settle.KIND,
    flow_honesty.KIND,
    flow_gas.KIND,
    water_path.KIND,
    start_hold.KIND,
    record_store.KIND,
    record_gap.KIND,
    bus_echo.KIND,
    queue_age.KIND,
    clock_doubt.KIND,
    node_online.KIND,
    owner_foreign.KIND,
    message_order.KIND,
    config_confirm.KIND,
    proof_gate.KIND,
    dispense_limit.KIND,
    lockout_both.KIND,
    feeder_runs.KIND,
    feeder_still.KIND,
    feeder_unseen.KIND,
    change_unfed.KIND,
    probe_validity.KIND_ORP,
    probe_validity.KIND_PH,
    probe_sample.KIND,
    probe_liveness.KIND,
    probe_glass.KIND,
    probe_agreement.KIND,
    high_orp.KIND,
    high_chlorine.KIND,
    high_tested.KIND,
    high_ph.KIND,
    low_ph.KIND,
    acid_response.KIND,
    wrong_way.KIND,
    chlorine_response.KIND,
    kit_contradicted.KIND,
    container_level.KIND,
    cell_power.KIND,
    salt_level.KIND,
    cold_water.KIND,
    cover_closed.KIND,
    lockout.KIND,
    mixing_wait.KIND,
    acid_budget.KIND,
    mass_single.KIND,
    mass_hour.KIND,
    mass_day.KIND,
    mass_learned.KIND,
)


def default_params() -> dict[Code, Any]:
    """The default settings of every kind that has any, by the kind's code."""
    return {kind.code: kind.params() for kind in KINDS if kind.params is not None}


def unable(site: Site, params: Mapping[Code, Any] | None = None) -> tuple[str, ...]:
    """Codes of the kinds that can't judge some part here, for want of a signal or a figure that somebody could add; those that
    are off altogether count unless the settings say that the pool does without them."""
    found = {*lacking(site, params), *(code for code in unfitted(site, params) if code not in site.pool.without)}
    return tuple(str(kind.code) for kind in KINDS if str(kind.code) in found)


def lacking(site: Site, params: Mapping[Code, Any] | None = None) -> tuple[str, ...]:
    """Codes of the kinds that lack what any such plant has: nobody can say that the pool does without."""
    chosen = {**default_params(), **(params or {})}
    return tuple(str(kind.code) for kind in KINDS if kind.lacks is not None and kind.lacks(site, chosen.get(kind.code)))


def unfitted(site: Site, params: Mapping[Code, Any] | None = None) -> tuple[str, ...]:
    """Codes of the kinds that read what only some plants have, and that could be fitted here and are not."""
    chosen = {**default_params(), **(params or {})}
    return tuple(
        str(kind.code)
        for kind in KINDS
        if kind.fits is not None and kind.fits(site) and not kind.build(site, chosen.get(kind.code))
    )


def build(site: Site, params: Mapping[Code, Any] | None = None) -> tuple[Guard, ...]:
    """All guards the site needs; a kind without params given takes its defaults.

    Raises ValueError for params of an unknown kind, or of the wrong type: a limit that nobody reads must not look as if it held.
    """
    given = dict(params or {})
    guards: list[Guard] = []
    for kind in KINDS:
        chosen = given.pop(kind.code, None)
        if kind.params is not None:
            chosen = kind.params() if chosen is None else chosen
            if not isinstance(chosen, kind.params):
                raise ValueError(f"{kind.code}: expected {kind.params.__name__}, found {type(chosen).__name__}")
        guards.extend(kind.build(site, chosen))
    if given:
        raise ValueError(f"no guard of that name: {', '.join(sorted(given))}")
    return tuple(guards)
