"""What a feeder of the file gives: mass per second, the most in an hour, and how its strength is said."""

from dosectl.chemistry import strengths
from dosectl.chemistry.delivery import acid_rate_g_s, chlorinator_rate_g_s, pump_rate_g_s
from dosectl.chemistry.strengths import StrengthWord
from dosectl.model.feeds import Substance
from dosectl.settings.tables.schema import AcidPumpTable, CellTable, FeederTable, HypochloritePumpTable, PumpTable

HOUR_S = 3600.0


def substance_of(table: FeederTable) -> Substance:
    """What it feeds."""
    return Substance.ACID if isinstance(table, AcidPumpTable) else Substance.CHLORINE


def strength_keys(table: FeederTable) -> tuple[str, ...]:
    """The keys by which the file says its strength; exactly one must be there for a pump."""
    names = [name for name in type(table).model_fields if name.startswith("strength_")]
    return tuple(name for name in names if getattr(table, name) is not None)


def strength_g_l(table: HypochloritePumpTable) -> float:
    """Available chlorine [g/L as Cl2]. Raises ValueError where it is not said or needs a density."""
    if table.strength_g_l is not None:
        return strengths.hypochlorite_g_l(table.strength_g_l, StrengthWord.GRAMS_PER_LITRE)
    if table.strength_trade_percent is not None:
        return strengths.hypochlorite_g_l(table.strength_trade_percent, StrengthWord.TRADE_PERCENT)
    if table.strength_weight_percent is not None:
        return strengths.hypochlorite_g_l(table.strength_weight_percent, StrengthWord.AVAILABLE_PERCENT, table.density_kg_l)
    raise ValueError("the strength is not said")


def strength_meq_ml(table: AcidPumpTable) -> float:
    """Acid [meq/mL]. Raises ValueError where it is not said."""
    if table.strength_meq_ml is not None:
        return table.strength_meq_ml
    if table.strength_hcl_weight_percent is not None:
        return strengths.acid_meq_ml(table.strength_hcl_weight_percent, table.density_kg_l)
    raise ValueError("the strength is not said")


def rate_g_s(table: FeederTable) -> float:
    """Mass at full output [g/s as Cl2, or as CaCO3 removed]. Raises ValueError where the strength is not said."""
    if isinstance(table, CellTable):
        return chlorinator_rate_g_s(table.output_g_h, 1.0)
    if isinstance(table, HypochloritePumpTable):
        return pump_rate_g_s(table.rate_ml_min, strength_g_l(table))
    if isinstance(table, AcidPumpTable):
        return acid_rate_g_s(table.rate_ml_min, strength_meq_ml(table))
    raise ValueError(f"no delivery is known of {table.kind!r}")


def running_s_per_h(table: FeederTable) -> float:
    """Longest that it can run in an hour, held by the node's own counter or a wired timer [s]."""
    return min(HOUR_S, table.node_cap_s_per_h or HOUR_S, table.wired_timer_s_per_h or HOUR_S)


def hourly_g(table: FeederTable) -> float:
    """Most that it can feed in an hour whatever the daemon does [g]. Raises ValueError where the strength is not said."""
    return rate_g_s(table) * running_s_per_h(table)


def ml_per_g(table: FeederTable) -> float:
    """Liquid per gram of the substance [mL/g], 0 for a cell."""
    return table.rate_ml_min / 60.0 / rate_g_s(table) if isinstance(table, PumpTable) else 0.0


def strength_text(table: FeederTable) -> str:
    """The strength in words for people, "" for a cell."""
    if isinstance(table, HypochloritePumpTable):
        return f"hypochlorite {strength_g_l(table):.0f} g/L as Cl2"
    if isinstance(table, AcidPumpTable):
        if table.strength_hcl_weight_percent is not None:
            return f"hydrochloric acid {table.strength_hcl_weight_percent:g} % by weight, {strength_meq_ml(table):.2f} mol/L"
        return f"acid {strength_meq_ml(table):.2f} eq/L"
    return ""
