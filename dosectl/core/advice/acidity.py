"""pH and alkalinity by acid and air, honestly: acid lowers both, aeration raises pH alone, nothing lowers alkalinity alone."""

from dataclasses import replace

from dosectl.chemistry import buffering, gas_exchange
from dosectl.chemistry.activity import ionic_strength_from_salt
from dosectl.chemistry.answers import dosing
from dosectl.chemistry.answers.dosing import Goal
from dosectl.chemistry.answers.water import Water
from dosectl.chemistry.products import Family
from dosectl.core.advice.answer import Z95, Answer, Figure, Worked, answer, measured, note, warning
from dosectl.core.advice.effects import PH_NEEDS
from dosectl.core.advice.known import Field, Known, Refused, basis
from dosectl.core.advice.safety import notes_for
from dosectl.core.advice.shelf import Shelf
from dosectl.core.advice.targets import aimed
from dosectl.model.reasons import Code, ReasonKind

LOW_PH = 7.1  # a round of acid stops here: lower gains little time and harms more
KL_STILL_CM_H, KL_STIRRED_CM_H = 2.0, 12.0  # quiet surface; fountain, returns upwards, bubbles. Common practice, factor of two
DAYS_MAX = 30.0

LOWER = ReasonKind(
    Code("advice.lower_alkalinity"),
    "From {now} to {target} mg/L takes {amount} of {product} in all (with 95 %: {low} to {high}), in {rounds} rounds: acid to "
    "pH {low_ph}, then aeration until the pH is back at {back}.",
)
ROUND = ReasonKind(
    Code("advice.acid_round"),
    "The first round is about {amount}, in {portions} portions a full turnover apart, and takes {ta} mg/L of alkalinity; the "
    "last one only {last}. Never give the whole amount at once, and test before each portion.",
)
AIR_FIRST = ReasonKind(
    Code("advice.air_first"),
    "Begin with air, not with acid: the pH is {ph}, and a round starts from {back}. Acid now would go too low.",
)
ROUNDS_MAX = 60
HONEST = ReasonKind(
    Code("advice.acid_honest"),
    "Acid lowers pH and alkalinity together; aeration drives out CO2 and raises the pH alone; nothing lowers alkalinity alone. "
    "Pouring acid in one spot does no more than spreading it.",
)
AIR_TIME = ReasonKind(
    Code("advice.air_time"),
    "Aeration back from {ph} to {back} takes about {fast} with a fountain, returns turned up or bubbles, {slow} "
    "with a quiet surface "
    "(a factor of two either way; the depth of {depth_m} m counts).",
)
NEVER = "more than a month"
AIR_END = ReasonKind(Code("advice.air_end"), "Left to the air for long, this water ends near pH {ph} at alkalinity {ta} mg/L.")
CLIMB = ReasonKind(
    Code("advice.climb"), "After that the pH climbs more slowly and less acid is needed: lower alkalinity holds less CO2 to lose."
)
AERATE = ReasonKind(
    Code("advice.aerate"), "Aeration alone brings the pH from {ph} to {target} and leaves the alkalinity at {ta} mg/L."
)
NO_AIR = ReasonKind(
    Code("advice.no_air"), "Aeration can't bring the pH to {target}: in balance with air this water ends near {ph}. Use soda ash."
)


def lower_alkalinity(known: Known, acid: Shelf, target_mg_l: float, *, back_ph: float = 7.5, depth_m: float = 1.5) -> Answer:
    """Acid in rounds and air between them. Raises Refused when the product is no acid or the target not below what is there."""
    if acid.family is not Family.ACID:
        raise Refused(f"{acid.name} to lower alkalinity: accepted is an acid")
    why = "pH, alkalinity and stabiliser together decide how far a round of acid may go"
    start = basis(known, (Field.VOLUME, *PH_NEEDS), why, (Field.TEMPERATURE, Field.SALT))
    water = start.water
    says = [*aimed(Goal.ALKALINITY, target_mg_l), *aimed(Goal.PH, back_ph), *start.says]
    if back_ph < LOW_PH + 0.1:
        raise Refused(
            f"pH to come back to = {back_ph:g}: accepted is {LOW_PH + 0.1:g} or more; a round of acid ends at {LOW_PH:g}"
        )
    if target_mg_l >= water.ta_mg_l:
        raise Refused(f"alkalinity = {target_mg_l:g} wanted from {water.ta_mg_l:g} mg/L: accepted is less; bicarbonate raises it")
    per_unit = -acid.supply.per_unit.ta_net_mg_l
    amount = (water.ta_mg_l - target_mg_l) * water.volume_m3 / per_unit
    sigma = (
        amount
        * (
            (start.sigmas["ta_mg_l"] / (water.ta_mg_l - target_mg_l)) ** 2
            + (start.sigmas["volume_m3"] / water.volume_m3) ** 2
            + acid.doubt_share**2
        )
        ** 0.5
    )
    at_back = _at(water, back_ph)
    air_first = water.ph < back_ph
    given = _rounds(at_back if air_first else water, acid, amount, back_ph)
    first, rounds = given[0], len(given)
    low = dosing.dose(at_back, acid.supply, Goal.PH, LOW_PH).mixed
    fast, slow = (_air_h(low, back_ph, depth_m, kl) for kl in (KL_STIRRED_CM_H, KL_STILL_CM_H))
    unit = acid.supply.unit
    portions = len(dosing.dose(at_back if air_first else water, acid.supply, Goal.PH, LOW_PH).portions)
    says = [
        answer(
            LOWER, now=water.ta_mg_l, target=target_mg_l, amount=measured(amount, unit), product=acid.name.replace("-", " "),
            low=measured(max(0.0, amount - Z95 * sigma), unit), high=measured(amount + Z95 * sigma, unit),
            rounds=rounds, low_ph=LOW_PH, back=back_ph,
        ),
        *((warning(AIR_FIRST, ph=water.ph, back=back_ph),) if air_first else ()),
        note(
            ROUND, amount=measured(first, unit), portions=portions, ta=round(first * per_unit / water.volume_m3, 1),
            last=measured(given[-1], unit),
        ),
        note(AIR_TIME, ph=LOW_PH, back=back_ph, fast=_time(fast), slow=_time(slow), depth_m=depth_m),
        note(HONEST),
        note(CLIMB),
        *says,
        *acid.says,
    ]  # fmt: skip
    working = (
        *start.working,
        *acid.working,
        Worked("alkalinity to take away", water.ta_mg_l - target_mg_l, "mg/L"),
        Worked(f"alkalinity that 1 {unit} takes in 1 m3", per_unit, "mg/L", "stoichiometry"),
        Worked("in all", amount, unit),
        Worked(f"the first round, pH {max(back_ph, water.ph):g} to {LOW_PH:g}", first, unit, "carbonate balance"),
        Worked(f"the last round, from pH {back_ph:g} at the alkalinity then left", given[-1], unit, "carbonate balance"),
    )
    figures = (Figure("amount", amount, unit, sigma), Figure("rounds", float(rounds), ""), Figure("round", first, unit))
    return Answer("lower_alkalinity", tuple(says), figures, (), (), working, notes_for(acid.supply.key))


def _rounds(water: Water, acid: Shelf, amount: float, back_ph: float) -> list[float]:
    """Acid of each round: to the low pH, back up by air, and again with the alkalinity that is left. Later rounds take less."""
    given: list[float] = []
    left = amount
    while left > 0.02 * amount or not given:
        if len(given) == ROUNDS_MAX:
            raise Refused(
                f"rounds of acid = more than {ROUNDS_MAX}: accepted is a higher alkalinity to end at; replace water to go so low"
            )
        try:
            one = min(left, dosing.dose(water, acid.supply, Goal.PH, LOW_PH).amount)
            water = replace(dosing.add(water, acid.supply, one), ph=back_ph)
        except ValueError as error:
            raise Refused(str(error)) from error
        given.append(one)
        left -= one
    return given


def aerate(known: Known, target_ph: float, *, depth_m: float = 1.5) -> Answer:
    """How long air alone takes to raise the pH. Raises Refused when the target is not above what is there."""
    start = basis(known, PH_NEEDS, "they decide how much CO2 the water holds", (Field.TEMPERATURE, Field.SALT))
    water = start.water
    says = [*aimed(Goal.PH, target_ph), *start.says]
    if target_ph <= water.ph:
        raise Refused(f"pH = {target_ph:g} wanted from {water.ph:g}: accepted is more; air only raises it here, acid lowers it")
    end = _end_ph(water)
    ends = note(AIR_END, ph=round(end, 1), ta=round(water.ta_mg_l))
    if target_ph >= end - 0.02:
        return Answer("aerate", (answer(NO_AIR, target=target_ph, ph=round(end, 1)), *says), working=start.working)
    fast, slow = (_air_h(water, target_ph, depth_m, kl) for kl in (KL_STIRRED_CM_H, KL_STILL_CM_H))
    first = answer(AERATE, ph=water.ph, target=target_ph, ta=round(water.ta_mg_l))
    time = note(AIR_TIME, ph=water.ph, back=target_ph, fast=_time(fast), slow=_time(slow), depth_m=depth_m)
    figures = tuple(Figure(f"time, {word}", h, "h", 0.5 * h) for word, h in (("stirred", fast), ("quiet", slow)) if h is not None)
    k = buffering.constants(water.temp_c, ionic_strength_from_salt(water.salt_g_l))
    other = buffering.buffers(water.cya_mg_l, water.borate_b_mg_l, water.free_chlorine_mg_l)
    dic = [1000.0 * buffering.dic_mol_l(ph, water.ta_mg_l / buffering.MG_CACO3_PER_EQ, other, k) for ph in (water.ph, target_ph)]
    working = (
        *start.working,
        Worked("inorganic carbon now", dic[0], "mmol/L", "carbonate balance"),
        Worked("inorganic carbon at that pH and the same alkalinity", dic[1], "mmol/L", "carbonate balance"),
        Worked("carbon dioxide to lose", dic[0] - dic[1], "mmol/L"),
        Worked("film velocity, stirred", KL_STIRRED_CM_H, "cm/h", "common practice, a factor of two"),
        Worked("film velocity, quiet", KL_STILL_CM_H, "cm/h", "common practice, a factor of two"),
        Worked("mean depth", depth_m, "m"),
    )
    return Answer("aerate", (first, time, ends, *says), figures, (), (), working)


def _end_ph(water: Water) -> float:
    return gas_exchange.ph_at_air_equilibrium(
        water.ta_mg_l, water.cya_mg_l, borate_b_mg_l=water.borate_b_mg_l, temp_c=water.temp_c, salt_g_l=water.salt_g_l
    )


def _at(water: Water, ph: float) -> Water:
    return replace(water, ph=ph)


def _time(hours: float | None) -> str:
    if hours is None:
        return NEVER
    return f"{hours:.0f} h" if hours < 48.0 else f"{hours / 24.0:.0f} days"


def _air_h(water: Water, target_ph: float, depth_m: float, kl_cm_h: float) -> float | None:
    """Hours of CO2 loss until the pH is there; None: not within a month."""
    k = buffering.constants(water.temp_c, ionic_strength_from_salt(water.salt_g_l))
    other = buffering.buffers(water.cya_mg_l, water.borate_b_mg_l, water.free_chlorine_mg_l)
    ta = water.ta_mg_l / buffering.MG_CACO3_PER_EQ
    dic, ph = buffering.dic_mol_l(water.ph, ta, other, k), water.ph
    step_h = 0.25 if kl_cm_h > 5.0 else 1.0
    for count in range(int(DAYS_MAX * 24.0 / step_h)):
        if ph >= target_ph:
            return count * step_h
        loss = gas_exchange.outgassing_mmol_l_s(ph, 1000.0 * dic, depth_m, kl_cm_h=kl_cm_h, temp_c=water.temp_c, k=k)
        dic -= loss * step_h * 3.6
        ph = buffering.solve_ph(ta, dic, other, k)
    return None
