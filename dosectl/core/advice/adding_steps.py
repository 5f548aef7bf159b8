"""The working of an addition, step by step, for somebody who follows it with a calculator."""

from dosectl.chemistry.answers import dosing
from dosectl.chemistry.answers.dosing import Dose, Goal
from dosectl.core.advice.answer import Worked
from dosectl.core.advice.known import ABOUT, Basis, Field
from dosectl.core.advice.shelf import Shelf


def done(shelf: Shelf, amount: float, start: Basis, doubt: float) -> tuple[Worked, ...]:
    """What an amount does: each change is amount x what one unit does / volume. `doubt` : one standard deviation, a share."""
    per, volume, unit = shelf.supply.per_unit, start.water.volume_m3, shelf.supply.unit
    each = (
        ("free chlorine", per.free_chlorine_mg_l, "mg/L"),
        ("alkalinity, mixed", per.ta_instant_mg_l, "mg/L"),
        ("alkalinity, later", per.ta_net_mg_l, "mg/L"),
        ("stabiliser", per.cya_mg_l, "mg/L"),
        ("hardness", per.hardness_mg_l, "mg/L"),
        ("salt", per.salt_mg_l / 1000.0, "g/L"),
        ("borate", per.borate_b_mg_l, "mg/L"),
        ("sulfate", per.sulfate_mg_l, "mg/L"),
    )
    steps = [Worked("amount / volume", amount / volume, f"{unit}/m3")]
    for what, gain, told in each:
        if gain != 0.0:
            one = f"{what}: 1 {unit} in 1 m3 moves it by {gain:.4g}, so"
            steps.append(Worked(one, gain * amount / volume, told, "stoichiometry and the label"))
    steps.append(Worked("one standard deviation of each change, from volume and strength", 100.0 * doubt, "%"))
    return tuple(steps)


def steps_of(shelf: Shelf, dose: Dose, goal: Goal, target: float, start: Basis, sigma: float) -> tuple[Worked, ...]:
    unit = shelf.supply.unit
    about = ABOUT[Field(goal.value)]
    steps = [Worked("wanted", target, about.unit), Worked("change", target - getattr(start.water, goal.value), about.unit)]
    if goal is Goal.PH:
        taken = dose.mixed.ta_mg_l - start.water.ta_mg_l
        steps += [
            Worked("alkalinity that this pH differs by, at the same carbon and stabiliser", taken, "mg/L", "carbonate balance"),
            Worked(f"alkalinity of 1 {unit} in 1 m3", shelf.supply.per_unit.ta_instant_mg_l, "mg/L", "stoichiometry"),
        ]
    else:
        per = gain_of(shelf, goal)
        steps.append(Worked(f"what 1 {unit} does in 1 m3", per, about.unit, "stoichiometry and the label"))
    steps += [
        Worked("in all: change x volume / what one does", dose.amount, unit),
        Worked("one standard deviation of it", sigma, unit, "tests, volume and strength, each moved by its own doubt"),
        Worked(
            "a portion moves at most a third of 1 pH, 5 mg/L chlorine or the like, so portions", float(len(dose.portions)), ""
        ),
        Worked(
            f"{about.words} after it, computed back",
            float(getattr(dosing.add(start.water, shelf.supply, dose.amount), goal.value)),
            about.unit,
        ),
    ]
    return tuple(steps)


def gain_of(shelf: Shelf, goal: Goal) -> float:
    """Change of a goal by one unit in 1 m3, in the goal's unit."""
    per = shelf.supply.per_unit
    name = {
        Goal.FREE_CHLORINE: "free_chlorine_mg_l",
        Goal.ALKALINITY: "ta_net_mg_l",
        Goal.CYANURIC_ACID: "cya_mg_l",
        Goal.HARDNESS: "hardness_mg_l",
        Goal.SALT: "salt_mg_l",
        Goal.BORATE: "borate_b_mg_l",
    }[goal]
    gain = float(getattr(per, name))
    return gain / 1000.0 if goal is Goal.SALT else gain
