"""What changed between two plans, and what it does to the water: the sheet on which a change is confirmed.

A change that can only make feeding rarer or smaller confirms itself. Where that is not plain, it counts as a raise: a smaller
volume or a weaker strength looks like a reduction and is none if it is wrong.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from dosectl.chemistry.carbonate import ph_after_acid
from dosectl.model.reasons import Fact
from dosectl.settings.digest import Fields
from dosectl.settings.tables.sections import is_minimum

REFERENCE_PH = 7.5  # the middle of the usual band: where an effect on pH is told from

_MORE_RAISES = frozenset(
    ("hourly_cap_g", "pulse_s_max", "age_s_max", "period_s", "expires_s", "renew_s", "container_ml", "age_s", "echo_s", "jump_s")
)
_LESS_RAISES = frozenset(
    ("rest_s_min", "proving_s", "settle_s", "steady_s", "hold_s", "unclean_s", "prove_s", "prove_long_s", "clean_s")
)
# Where the name alone does not tell: settings of guards, by guard and key.
_MORE_RAISES_AT = frozenset(
    f"guards.{name}"
    for name in (
        "flow.settle.sample_flow_l_min", "flow.honesty.rundown_s", "flow.gas.pump_s", "flow.gas.cell_s", "clock.doubt.day_s",
        "messages.order.drops", "acid.budget.limit_share", "acid.budget.stop_share", "acid.budget.rate_mg_l_day",
        "mass.single.chlorine_mg_l", "mass.single.acid_mg_l", "mass.hour.chlorine_mg_l", "mass.hour.acid_mg_l",
        "mass.day.chlorine_mg_l", "mass.day.chlorine_most_mg_l", "mass.day.acid_mg_l",
        "dispense.limit.seconds", "dispense.limit.times", "probe.sample.lost_s",
        "probe.agreement.orp_mv", "probe.agreement.ph", "probe.agreement.apart_s", "high.orp.orp_mv",
        "high.chlorine.chlorine_mg_l", "high.ph.ph",
    )
)  # fmt: skip
_LESS_RAISES_AT = frozenset(
    f"guards.{name}"
    for name in (
        "flow.settle.sample_line_l", "start.hold.samples", "record.store.free_mb", "lockout.spacing.pump_s",
        "lockout.spacing.cell_s", "mixing.wait.chlorine_s", "mixing.wait.acid_s", "config.confirm.wait_s",
        "probe.sample.back_s", "probe.liveness.moving_s", "probe.agreement.together_s", "low.ph.ph", "high.orp.deadband_mv",
    )
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Difference:
    """One changed field.

    before, after : None where the field was not there
    effect : what it does in mg/L or pH, "" where it is not a matter of either
    raises : it may let more be fed, or sooner, or on less evidence: a person confirms it
    """

    field: str
    before: Fact | None
    after: Fact | None
    effect: str
    raises: bool


def before_after(old: Fields, new: Fields) -> tuple[Difference, ...]:
    """All changed fields, those that raise first, each group in the order of the names."""
    names = sorted(name for name in {*old, *new} if not _same(old.get(name), new.get(name)))
    found = [Difference(name, old.get(name), new.get(name), _effect(name, old, new), _raises(name, old, new)) for name in names]
    return tuple(sorted(found, key=lambda difference: not difference.raises))


def confirms_itself(differences: tuple[Difference, ...]) -> bool:
    """Nothing in them needs a person."""
    return not any(difference.raises for difference in differences)


def _same(before: Fact | None, after: Fact | None) -> bool:
    return type(before) is type(after) and before == after


def _raises(name: str, old: Fields, new: Fields) -> bool:
    before, after = _number(old.get(name)), _number(new.get(name))
    last = name.rsplit(".", 1)[-1]
    if last == "edges":
        return new.get(name) is not True
    if name not in old and _of_new_guard(name, old):
        return False
    if before is None or after is None:
        return True
    guarding = name.startswith(("guards.", "probes."))
    if last in _MORE_RAISES or name in _MORE_RAISES_AT or (guarding and last.endswith("_max")):
        return after > before
    if last in _LESS_RAISES or name in _LESS_RAISES_AT or (guarding and is_minimum(last)):
        return after < before
    return True


def _of_new_guard(name: str, old: Fields) -> bool:
    """A guard that was not there before can only withhold; a new setting of an old guard may loosen it."""
    guard = name.rsplit(".", 1)[0] + "."
    return name.startswith("guards.") and not any(known.startswith(guard) for known in old)


def _number(value: Fact | None) -> float | None:
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def _effect(name: str, old: Fields, new: Fields) -> str:
    for fits, words in _EFFECTS:
        if fits(name):
            return words(name, old, new)
    return ""


def _of_volume(_name: str, old: Fields, new: Fields) -> str:
    before, after = _number(old.get("pool.volume_m3")), _number(new.get("pool.volume_m3"))
    if not before or not after:
        return ""
    said = [f"the same mass changes the water by {before / after:.3g} times as many mg/L"]
    for feeder in _feeders(new):
        cap, was = _number(new.get(f"feeders.{feeder}.hourly_cap_g")), _number(old.get(f"feeders.{feeder}.hourly_cap_g"))
        if cap is not None and was is not None:
            said.append(f"{feeder} at its hourly bound {was / before:.2f} -> {cap / after:.2f} mg/L")
    return "; ".join(said)


def _of_output(name: str, old: Fields, new: Fields) -> str:
    per_hour = 3600.0 if name.endswith("rate_g_s") else 1.0
    feeder = name.split(".")[1]
    before, after = (_mg_l(name, fields, per_hour) for fields in (old, new))
    if before is None or after is None:
        return ""
    words = "full output" if name.endswith("rate_g_s") else "at most"
    effect = f"{words} {before:.2f} -> {after:.2f} mg/L an hour"
    if new.get(f"feeders.{feeder}.substance") != "acid":
        return effect
    was, will = _ph_after(before, old), _ph_after(after, new)
    return effect + (
        f" of alkalinity, pH {REFERENCE_PH} -> {was:.2f} before, {will:.2f} now" if was and will else " of alkalinity"
    )


def _of_alkalinity(_name: str, old: Fields, new: Fields) -> str:
    was, will = _ph_after(5.0, old), _ph_after(5.0, new)
    if was is None or will is None:
        return ""
    return f"5 mg/L of acid takes pH {REFERENCE_PH} to {was:.2f} before, {will:.2f} now"


def _of_limit(name: str, old: Fields, new: Fields) -> str:
    before, after = _number(old.get(name)), _number(new.get(name))
    unit = "mg/L" if "_mg_l" in name else "pH"
    return f"limit {before:g} -> {after:g} {unit}" if before is not None and after is not None else ""


def _mg_l(name: str, fields: Fields, factor: float) -> float | None:
    mass, volume = _number(fields.get(name)), _number(fields.get("pool.volume_m3"))
    return mass * factor / volume if mass is not None and volume else None


def _ph_after(acid_mg_l: float, fields: Mapping[str, Fact]) -> float | None:
    """pH after that much acid from the reference pH, None where it can't be computed (beyond all alkalinity).

    Stabiliser is left out where the fields don't tell it: pH then falls a little further than it would.
    """
    alkalinity, stabiliser = _number(fields.get("pool.alkalinity_mg_l")), _number(fields.get("pool.stabiliser_mg_l")) or 0.0
    if alkalinity is None:
        return None
    try:
        return ph_after_acid(alkalinity, stabiliser, REFERENCE_PH, acid_mg_l)
    except ValueError:
        return None


def _feeders(fields: Fields) -> tuple[str, ...]:
    return tuple(sorted({name.split(".")[1] for name in fields if name.startswith("feeders.")}))


_EFFECTS: tuple[tuple[Callable[[str], bool], Callable[[str, Fields, Fields], str]], ...] = (
    (lambda name: name == "pool.volume_m3", _of_volume),
    (lambda name: name == "pool.alkalinity_mg_l", _of_alkalinity),
    (lambda name: name.startswith("feeders.") and name.endswith((".rate_g_s", ".hourly_cap_g")), _of_output),
    (lambda name: name.startswith("guards.") and ("_mg_l" in name or ".ph_" in name or name.endswith(".ph")), _of_limit),
)
