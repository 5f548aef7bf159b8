"""Feeders: their strength must be sure, their run must be seen, their full output must be bounded by something that is not us.

Bounds: chlorine 1.5 mg/L, acid 5 mg/L (as CaCO3) in an hour, so that a feeder stuck on leaves hours to act: from free chlorine
3 to 10 mg/L some 5 h, from pH 7.8 to 7.0 some 3 h. Derived for a pool of 50 m3; a share of the water, so it holds for any.
"""

from collections.abc import Callable, Iterator

from dosectl.model.feeds import Substance
from dosectl.settings import delivery
from dosectl.settings.findings import Finding
from dosectl.settings.tables.file import SignalTable, Tables
from dosectl.settings.tables.schema import CellTable, FeederTable, HypochloritePumpTable, PumpTable

HOURLY_MG_L_MAX = {Substance.CHLORINE: 1.5, Substance.ACID: 5.0}
PULSE_MG_L_MAX = {
    Substance.CHLORINE: 0.5,
    Substance.ACID: 1.0,
}  # the single-feed limits: a shortest pulse above them could never run


def strength_is_sure(tables: Tables) -> Iterator[Finding]:
    """Exactly one way to say the strength, with its density where it needs one."""
    for name, table in tables.feeders:
        if not isinstance(table, PumpTable):
            continue
        said, ways = delivery.strength_keys(table), [key for key in type(table).model_fields if key.startswith("strength_")]
        if len(said) != 1:
            found = " and ".join(said) if said else "no strength"
            why = "every dose is computed from the strength, so it must be said in exactly one way"
            yield Finding(f"feeders.{name}", found, why, f"write one of {', '.join(ways)}, as the label says it")
        elif isinstance(table, HypochloritePumpTable):
            yield from _density(name, table)


def feeder_is_seen(tables: Tables) -> Iterator[Finding]:
    """Feedback for every feeder; at the load for both where two chemicals could meet."""
    signals = {signal.name: signal for signal in tables.signals}
    two = len({delivery.substance_of(table) for _, table in tables.feeders}) > 1
    for name, table in tables.feeders:
        key = f"feeders.{name}.feedback"
        if table.feedback is None:
            why = "without feedback nobody sees a relay that stays on"
            yield Finding(key, "", why, "fit a current or power meter at the feeder, and name its signal (kind feedback) here")
        elif two and table.feedback in signals and not at_load(signals[table.feedback]):
            why = (
                "acid and chlorine must never run at once, and an echo of the command can't show a welded contact: with two "
                "chemicals both feedbacks must be measured at the load"
            )
            do = (
                f"measure its current or power (on_above_w or on_above_a in [signals.{table.feedback}]), "
                "or say at_load = true for a motion switch"
            )
            yield Finding(key, f'"{table.feedback}"', why, do)


def output_is_bounded(tables: Tables) -> Iterator[Finding]:
    """The most that a feeder, and all feeders of one substance, can give in an hour whatever the daemon does."""
    sums = dict.fromkeys(Substance, 0.0)
    alone = True
    for name, table in tables.feeders:
        substance = delivery.substance_of(table)
        try:
            hourly_mg_l = delivery.hourly_g(table) / tables.pool.volume_m3
        except ValueError:
            alone = False
            continue
        sums[substance] += hourly_mg_l
        if hourly_mg_l > HOURLY_MG_L_MAX[substance] * (1 + 1e-9):
            alone = False
            yield _unbounded(name, table, hourly_mg_l, tables.pool.volume_m3)
    for substance, total in sums.items():
        limit = HOURLY_MG_L_MAX[substance]
        if alone and total > limit * (1 + 1e-9):
            why = f"all {substance} feeders together could feed {total:.3g} mg/L an hour; the bound is {limit:g}"
            yield Finding("feeders", "", why, "lower node_cap_s_per_h or wired_timer_s_per_h of them until the sum fits")


def cap_is_real(tables: Tables) -> Iterator[Finding]:
    """A cap that the node counts needs a node."""
    for name, table in tables.feeders:
        if table.node_cap_s_per_h is not None and table.node is None:
            why = "a plain relay has no counter of its own that could hold this"
            yield Finding(
                f"feeders.{name}.node_cap_s_per_h",
                f"{table.node_cap_s_per_h:g}",
                why,
                "use a node, or a wired timer (wired_timer_s_per_h)",
            )


def pulses_fit(tables: Tables) -> Iterator[Finding]:
    """Shortest pulse below the longest, and small enough to be allowed at all."""
    for name, table in tables.feeders:
        if not isinstance(table, CellTable | PumpTable):
            continue
        if table.pulse_s_min > table.pulse_s_max:
            why = f"it is longer than pulse_s_max = {table.pulse_s_max:g}"
            yield Finding(f"feeders.{name}.pulse_s_min", f"{table.pulse_s_min:g}", why, "make it the shorter one")
            continue
        try:
            pulse_mg_l = delivery.rate_g_s(table) * table.pulse_s_min / tables.pool.volume_m3
        except ValueError:
            continue
        limit = PULSE_MG_L_MAX[delivery.substance_of(table)]
        if pulse_mg_l > limit:
            why = f"a shortest pulse of {pulse_mg_l:.2g} mg/L could never run: a single feed may be {limit:g} mg/L"
            yield Finding(f"feeders.{name}.pulse_s_min", f"{table.pulse_s_min:g}", why, "shorten it, or fit a smaller feeder")


def at_load(signal: SignalTable) -> bool:
    """The feedback is measured at the load: a current or power always is, a switch where the file says so."""
    keys = signal.keys
    metered = getattr(keys, "on_above_w", None) is not None or getattr(keys, "on_above_a", None) is not None
    return metered or bool(getattr(keys, "at_load", False))


def _density(name: str, table: HypochloritePumpTable) -> Iterator[Finding]:
    if table.strength_weight_percent is not None and table.density_kg_l is None:
        why = "a weight percentage says nothing per litre without a density; a guess would be wrong by 10 to 20 %"
        yield Finding(
            f"feeders.{name}.density_kg_l", "", why, "write the density of the data sheet, about 1.2 for a strong solution"
        )
    if table.strength_weight_percent is None and table.density_kg_l is not None:
        why = "only strength_weight_percent uses a density"
        yield Finding(
            f"feeders.{name}.density_kg_l", f"{table.density_kg_l:g}", why, "leave it out, or say the strength by weight"
        )


def _unbounded(name: str, table: FeederTable, hourly_mg_l: float, volume_m3: float) -> Finding:
    substance = delivery.substance_of(table)
    limit = HOURLY_MG_L_MAX[substance]
    rate_g_s = delivery.rate_g_s(table)
    seconds = int(limit * volume_m3 / rate_g_s)
    if isinstance(table, PumpTable):
        key, found = "rate_ml_min", f"{table.rate_ml_min:g}"
        smaller = f"a pump of at most {table.rate_ml_min * limit * volume_m3 / (rate_g_s * 3600.0):.3g} mL/min"
    else:
        key, found = "output_g_h", f"{rate_g_s * 3600.0:g}"
        smaller = f"a cell of at most {limit * volume_m3:.3g} g/h"
    unit = "of alkalinity " if substance is Substance.ACID else ""
    why = f"stuck on, it would feed {hourly_mg_l:.3g} mg/L {unit}an hour into {volume_m3:g} m3; the bound is {limit:g}"
    do = (
        f"fit {smaller}, or a wired timer (wired_timer_s_per_h = {seconds}), or let the node stop it by its own counter "
        f"(node_cap_s_per_h = {seconds}); if the pool holds more, correct pool.volume_m3"
    )
    return Finding(f"feeders.{name}.{key}", found, why, do)


FEEDING_CHECKS: tuple[Callable[[Tables], Iterator[Finding]], ...] = (
    strength_is_sure,
    feeder_is_seen,
    output_is_bounded,
    cap_is_real,
    pulses_fit,
)
