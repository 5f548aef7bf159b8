"""A product as it stands on the shelf, by its label. A strength that is missing or ambiguous is asked for, never assumed."""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from math import isfinite

from dosectl.chemistry import decay, strengths
from dosectl.chemistry.answers import dosing, mixing
from dosectl.chemistry.answers.dechlorination import neutraliser as neutraliser_of
from dosectl.chemistry.answers.dosing import Goal, Supply
from dosectl.chemistry.delivery.cell import OUTPUT
from dosectl.chemistry.products import Family, product
from dosectl.chemistry.strengths import StrengthWord
from dosectl.core.advice.answer import Said, Worked, note, warning
from dosectl.core.advice.known import Refused
from dosectl.core.requests.products import NAMES, NEUTRALISER_NAMES
from dosectl.model.reasons import Code, ReasonKind

USUAL_GOAL: Mapping[str, Goal] = {
    "acid": Goal.PH,
    "dry-acid": Goal.PH,
    "soda-ash": Goal.PH,
    "caustic-soda": Goal.PH,
    "bicarbonate": Goal.ALKALINITY,
    "stabiliser": Goal.CYANURIC_ACID,
    "calcium-chloride": Goal.HARDNESS,
    "calcium-chloride-dihydrate": Goal.HARDNESS,
    "salt": Goal.SALT,
    "borax": Goal.BORATE,
    "boric-acid": Goal.BORATE,
}
ALSO_GOALS: Mapping[str, tuple[Goal, ...]] = {
    "acid": (Goal.ALKALINITY,),
    "dry-acid": (Goal.ALKALINITY,),
    "soda-ash": (Goal.ALKALINITY,),
    "bicarbonate": (Goal.PH,),
}
"""What else a product may be dosed for. Every other thing it moves is a side effect, and no reason to add it."""
LABEL_DOUBT = 0.05  # of a label's strength, one standard deviation; common practice
OUTPUT_DOUBT = 0.2  # of a chlorinator's name plate; common practice
UNKNOWN_AGE_DOUBT = 0.12  # liquid hypochlorite of unknown age: a few months lose that much; decay of storage

AGED = ReasonKind(
    Code("advice.aged"),
    "After {days} days at {temp_c} °C it holds about {now_g_l} g/L of available chlorine instead of {fresh_g_l} "
    "(the loss may be half as much again, or a third less).",
)
AGE_UNKNOWN = ReasonKind(
    Code("advice.age_unknown"), "Taken as fresh. Liquid hypochlorite fades, faster when strong or warm: an old one needs more."
)
ODD_STRENGTH = ReasonKind(
    Code("advice.odd_strength"),
    "A strength of {value} % is unusual for {product} ({low} to {high} %): look at the label again, a decimal point "
    "or the kind of "
    "percentage may have slipped. The amount is out by as much.",
)
PURE = ReasonKind(Code("advice.pure"), "{product} is taken as pure; give the purity if the label says less.")


@dataclass(frozen=True, slots=True)
class Strength:
    """What the label says; fill in the one that it says.

    percent : a bare percentage: by weight for acid, the purity of other products, refused for hypochlorite
    trade_percent, available_percent, naocl_percent, available_g_l : of chlorine products
    density_kg_l : goes with percentages by weight of liquids; age_days, storage_c : of liquid hypochlorite
    output_g_h : of a chlorinator at full level
    """

    percent: float | None = None
    trade_percent: float | None = None
    available_percent: float | None = None
    naocl_percent: float | None = None
    available_g_l: float | None = None
    density_kg_l: float | None = None
    age_days: float | None = None
    storage_c: float | None = None
    output_g_h: float | None = None


@dataclass(frozen=True, slots=True)
class Shelf:
    """A product ready to compute with. `doubt_share` is the standard deviation of its strength as a share of it."""

    name: str
    supply: Supply
    doubt_share: float
    says: tuple[Said, ...]
    working: tuple[Worked, ...]

    @property
    def family(self) -> Family:
        """What it is to others."""
        return mixing.family_of(self.supply.key)


# What is sold for pools, as the label says it. Common practice.
_USUAL: Mapping[str, tuple[str, float, float]] = {
    "hypochlorite": ("trade_percent", 3.0, 17.0),
    "acid": ("percent", 8.0, 37.0),
    "calcium-hypochlorite": ("available_percent", 45.0, 80.0),
    "dichlor": ("available_percent", 50.0, 64.9),
    "dichlor-dihydrate": ("available_percent", 45.0, 56.0),
    "trichlor": ("available_percent", 75.0, 92.0),
}
_NO_STRENGTH = Strength()


def take(name: str, strength: Strength = _NO_STRENGTH) -> Shelf:
    """A product by its everyday name and the strength of its label. Raises Refused for an unknown name, a strength that is
    missing, ambiguous, of another product, a fraction, or impossible."""
    if name not in NAMES and name not in NEUTRALISER_NAMES:
        raise Refused(f"product = {name!r}: accepted is one of {', '.join((*NAMES, *NEUTRALISER_NAMES))}")
    try:
        found = _take(name, strength)
        return replace(found, says=(*_odd(name, strength), *found.says))
    except Refused:
        raise
    except ValueError as error:
        raise Refused(str(error)) from error


def _odd(name: str, strength: Strength) -> tuple[Said, ...]:
    """A warning for a strength that can be, and that nobody sells."""
    word, low, high = _USUAL.get(name, ("percent", 50.0, 100.0))
    value = getattr(strength, word)
    if value is None or name == "peroxide" or low <= value <= high:
        return ()
    return (warning(ODD_STRENGTH, value=value, product=name.replace("-", " "), low=low, high=high),)


def _take(name: str, strength: Strength) -> Shelf:
    if name == "hypochlorite":
        return _hypochlorite(strength)
    if name in NEUTRALISER_NAMES:
        return _neutraliser(name, strength)
    key = NAMES[name]
    if name == "chlorinator":
        _only(name, strength, "output_g_h")
        if not strength.output_g_h:
            raise Refused(
                "chlorinator output = none: accepted is 1 to 2000 g/h of chlorine, as on its plate or better as measured"
            )
        per_h = product(key).per_g_chlorine().scaled(OUTPUT.check(strength.output_g_h))
        return Shelf(
            name, Supply(key, "h", per_h), OUTPUT_DOUBT, (), (Worked("output at full level", strength.output_g_h, "g/h"),)
        )
    if name == "acid":
        _only(name, strength, "percent", "density_kg_l")
        if strength.percent is None:
            raise Refused(
                "strength of acid = none: accepted is the label's percentage by weight, 1 to 40; "
                "acids sold for pools span 10 to 33 %, so a guess would be out by a factor of three"
            )
        supply = dosing.acid(strength.percent, strength.density_kg_l)
        eq = strengths.acid_meq_ml(strength.percent, strength.density_kg_l)
        return Shelf(name, supply, LABEL_DOUBT, (), (Worked("acid strength", eq, "eq/L", f"{strength.percent:g} % by weight"),))
    return _solid(name, key, strength)


def _neutraliser(name: str, strength: Strength) -> Shelf:
    """Doubted by the span of its stoichiometry, as if least and most were the ends of 95 %."""
    key = NEUTRALISER_NAMES[name]
    _only(name, strength, "percent")
    n = neutraliser_of(key)
    span = (n.g_per_g_most - n.g_per_g_least) / (2.0 * 1.96 * n.g_per_g)
    says = () if strength.percent is not None else (note(PURE, product=n.words),)
    worked = Worked("grams that take one gram of chlorine, usually", n.g_per_g, "g", n.source)
    return Shelf(name, dosing.neutraliser(key, purity_percent=strength.percent), max(LABEL_DOUBT, span), says, (worked,))


def _solid(name: str, key: str, strength: Strength) -> Shelf:
    if product(key).is_chlorine:
        _only(name, strength, "available_percent")
        if strength.available_percent is None:
            raise Refused(
                f"available chlorine of {name} = none: accepted is the label's percentage of available chlorine, "
                f"at most {product(key).available_percent:.0f}; without it the dose can't be told"
            )
        supply = dosing.granules(key, available_percent=strength.available_percent)
        worked = Worked("available chlorine", strength.available_percent, "%", "the label")
        return Shelf(name, supply, LABEL_DOUBT, (), (worked,))
    _only(name, strength, "percent")
    supply = dosing.granules(key, purity_percent=strength.percent)
    says = () if strength.percent is not None else (note(PURE, product=product(key).words),)
    return Shelf(name, supply, LABEL_DOUBT if strength.percent is None else 0.02, says, ())


_WORDS: Mapping[str, StrengthWord] = {
    "trade_percent": StrengthWord.TRADE_PERCENT,
    "available_percent": StrengthWord.AVAILABLE_PERCENT,
    "naocl_percent": StrengthWord.NAOCL_PERCENT,
    "available_g_l": StrengthWord.GRAMS_PER_LITRE,
}


def _hypochlorite(strength: Strength) -> Shelf:
    _only("hypochlorite", strength, *_WORDS, "percent", "density_kg_l", "age_days", "storage_c")
    said = [field for field in _WORDS if getattr(strength, field) is not None]
    if strength.percent is not None and not said:
        strengths.hypochlorite_g_l(strength.percent, None)  # raises, with all readings of a bare percentage
    if len(said) != 1 or strength.percent is not None:
        raise Refused(
            f"strength of hypochlorite = {'several' if said else 'none'}: accepted is exactly one of trade "
            f"percent, weight percent of "
            "available chlorine, weight percent of sodium hypochlorite, or g/L of available chlorine, as the label counts it"
        )
    if strength.density_kg_l is not None and said[0] in ("trade_percent", "available_g_l"):
        raise Refused(
            f"density of hypochlorite = {strength.density_kg_l:g} kg/L: accepted is none, its strength is told by volume"
        )
    if strength.storage_c is not None and strength.age_days is None:
        raise Refused(f"storage at {strength.storage_c:g} °C: accepted is beside an age in days; without it nothing fades")
    fresh = strengths.hypochlorite_g_l(getattr(strength, said[0]), _WORDS[said[0]], strength.density_kg_l)
    worked = [Worked("strength as sold", fresh, "g/L", _WORDS[said[0]].value)]
    if strength.age_days is None:
        shelf = dosing.hypochlorite(fresh)
        return Shelf("hypochlorite", shelf, UNKNOWN_AGE_DOUBT, (warning(AGE_UNKNOWN),), tuple(worked))
    temp_c = 25.0 if strength.storage_c is None else strength.storage_c
    now = decay.hypochlorite_strength_g_l(fresh, strength.age_days, temp_c)
    worked.append(Worked("strength today", now, "g/L", f"{strength.age_days:g} days at {temp_c:g} °C"))
    lost = 1.0 - now / fresh
    says = (note(AGED, days=strength.age_days, temp_c=temp_c, now_g_l=now, fresh_g_l=fresh),)
    doubt = (LABEL_DOUBT**2 + (0.4 * lost * fresh / now) ** 2) ** 0.5  # the decay is known to a factor of 1.5
    return Shelf("hypochlorite", dosing.hypochlorite(now), doubt, says, tuple(worked))


def _only(name: str, strength: Strength, *accepted: str) -> None:
    """Refuses a strength word that belongs to another kind of product, and one that is no number."""
    for item in fields(strength):
        value = getattr(strength, item.name)
        if value is None:
            continue
        words = item.name.replace("_", " ")
        if item.name not in accepted:
            told = ", ".join(word.replace("_", " ") for word in accepted)
            raise Refused(f"{words} of {name} = {value:g}: accepted is {told}; the other word belongs to another kind of product")
        if not isfinite(value) or value < 0.0:
            raise Refused(f"{words} of {name} = {value!r}: accepted is a number above 0")
