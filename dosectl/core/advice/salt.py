"""Salt for a chlorinator: how much to add, or how much water to replace."""

from dosectl.chemistry.answers.dosing import Goal
from dosectl.core.advice.adding import add
from dosectl.core.advice.answer import Answer, note, warning
from dosectl.core.advice.coming_down import replace_water
from dosectl.core.advice.known import Field, Known, value_of
from dosectl.core.advice.shelf import take
from dosectl.core.advice.targets import aimed
from dosectl.model.reasons import Code, ReasonKind

USUAL_G_L = 3.2  # middle of the usual window of 2.7-4.5 g/L, common practice

LABEL = ReasonKind(
    Code("advice.salt_label"),
    "The chlorinator's label decides: windows of 2.7 to 4.5 g/L are usual, low-salt cells work at 1 to 2.",
)
COLD = ReasonKind(
    Code("advice.salt_cold"),
    "At {temp_c} °C many cells limit themselves and show low salt: test with a meter or drops before you add.",
)
METER = ReasonKind(
    Code("advice.salt_meter"),
    "A chlorinator's own figure is drawn from current and temperature, and falls with scale: trust a test more.",
)


def salt(known: Known, target_g_l: float = USUAL_G_L, *, fill_g_l: float = 0.0) -> Answer:
    """Salt to add, or water to replace where there is too much."""
    now = value_of(known, Field.SALT, "salt is not used up, so what is there decides").value
    says = [note(LABEL), note(METER)]
    if Field.TEMPERATURE in known and known[Field.TEMPERATURE].value < 15.0:
        says.insert(0, warning(COLD, temp_c=known[Field.TEMPERATURE].value))
    if now > target_g_l:
        aimed(Goal.SALT, target_g_l)
        found = replace_water(known, Field.SALT, target_g_l, fill_g_l)
    else:
        found = add(known, take("salt"), target_g_l)
    return Answer("salt", (*found.says, *says), found.figures, found.moves, found.curve, found.working, found.safety)
