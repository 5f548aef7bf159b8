"""Does the water deposit chalk or dissolve cement?"""

from contextlib import suppress
from dataclasses import replace

from dosectl.chemistry import calcite
from dosectl.chemistry.answers.water import Water
from dosectl.core.advice.answer import Z95, Answer, Figure, Said, Worked, answer, note
from dosectl.core.advice.effects import INDEX_NEEDS
from dosectl.core.advice.known import ABOUT, Field, Known, Refused, basis
from dosectl.model.reasons import Code, ReasonKind

MODEL_SIGMA = 0.05  # of the index against PHREEQC, and calcite's own scatter; see the reference tables

INDEX = ReasonKind(Code("advice.index"), "Saturation index {index} ({low} to {high} with 95 %): {what}.")
FORMULA = ReasonKind(
    Code("advice.index_formula"),
    "Counted with carbonate alkalinity ({carbonate} of {ta} mg/L; the rest is stabiliser and borate) and with "
    "salt by molar mass; "
    "short formulas that leave these out read up to 0.3 higher.",
)
GUIDE = ReasonKind(
    Code("advice.index_guide"),
    "It is a guide, not a law: it says which way the water leans, not how fast. Fibreglass and liners hardly mind.",
)
CELL = ReasonKind(
    Code("advice.index_cell"),
    "Inside a chlorinator the film at the plates is far more alkaline: scale can form there below 0, so aim a little below 0 "
    "(-0.3 to 0) and follow the cell's label.",
)
BALANCED_PH = ReasonKind(Code("advice.index_ph"), "All else as it is, the index is 0 at pH {ph}.")
DRIVER = ReasonKind(Code("advice.index_driver"), "Most of the doubt comes from {what}.")


def balance(known: Known, *, salt_pool: bool = True) -> Answer:
    """The calcite balance with its doubt. Raises Refused where there is no calcium or no carbonate to balance."""
    weak = (Field.TEMPERATURE,) if salt_pool else (Field.TEMPERATURE, Field.SALT)  # salt takes up to 0.2 off the index
    start = basis(known, tuple(f for f in INDEX_NEEDS if f not in weak), "the index is made of it", weak)
    water = start.water
    index = _index(water)
    variance = {name: _shift(water, name, sigma) ** 2 for name, sigma in start.sigmas.items() if name in INDEX_NEEDS}
    sigma = (sum(variance.values()) + MODEL_SIGMA**2) ** 0.5
    what = (
        "chalk tends to settle"
        if index > 0.3
        else "cement and grout tend to dissolve"
        if index < -0.5
        else "in balance, near enough"
    )
    first = answer(INDEX, index=round(index, 2), low=round(index - Z95 * sigma, 2), high=round(index + Z95 * sigma, 2), what=what)
    ionic = calcite.ionic_strength_of_water(water.salt_g_l, water.hardness_mg_l, water.ta_mg_l)
    carbonate = calcite.carbonate_alkalinity_mg_l(
        water.ta_mg_l, water.ph, water.cya_mg_l, water.borate_b_mg_l, water.temp_c, ionic
    )
    says: list[Said] = [first, note(FORMULA, carbonate=round(carbonate), ta=round(water.ta_mg_l))]
    with suppress(ValueError):  # it lies beyond any pool's pH, or on the way the stabiliser alone would hold all alkalinity
        zero = calcite.ph_at_saturation(
            0.0, water.ta_mg_l, water.hardness_mg_l, cya_mg_l=water.cya_mg_l, borate_b_mg_l=water.borate_b_mg_l,
            temp_c=water.temp_c, salt_g_l=water.salt_g_l,
        )  # fmt: skip
        if 6.5 < zero < 8.9:
            says.append(note(BALANCED_PH, ph=round(zero, 2)))
    if salt_pool:
        says.append(note(CELL))
    worst = max(variance, key=lambda name: variance[name])
    says += [note(DRIVER, what=ABOUT[Field(worst)].words), note(GUIDE), *start.says]
    working = (
        *start.working,
        Worked("ionic strength", ionic, "mol/L", "salt, calcium and alkalinity"),
        Worked("carbonate alkalinity", carbonate, "mg/L", "total less stabiliser and borate at this pH"),
        Worked("pH of saturation", water.ph - index, "", "2330 form; Plummer and Busenberg constants"),
        Worked("index = pH - pH of saturation", index, ""),
    )
    return Answer("balance", tuple(says), (Figure("saturation index", index, "", sigma),), (), (), working)


def _index(water: Water) -> float:
    try:
        return water.saturation_index
    except ValueError as error:
        raise Refused(str(error)) from error


def _shift(water: Water, name: str, sigma: float) -> float:
    """Half the change of the index over one standard deviation either way."""
    value = float(getattr(water, name))
    ends: list[float] = []
    for shifted in (value + sigma, max(value * 0.2, value - sigma)):
        try:
            ends.append(replace(water, **{name: shifted}).saturation_index)
        except ValueError:
            ends.append(water.saturation_index)
    return 0.5 * (ends[0] - ends[1])
