"""What the result of a water test means, and how far it may be off."""

from dosectl.chemistry.answers import assays
from dosectl.chemistry.changes import combined as chloramines
from dosectl.core.advice.answer import Z95, Answer, Figure, Said, Worked, answer, note, warning
from dosectl.core.advice.known import ABOUT, Field, Refused, checked
from dosectl.core.requests.methods import methods_for, sigma_of
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.water_tests import Quantity

BLEACHING = ("colour", "photometer", "strips")
_ASSAYS = {
    "drops": assays.Method.DROPS,
    "colour": assays.Method.COLOUR,
    "photometer": assays.Method.PHOTOMETER,
    "strips": assays.Method.STRIP,
    "turbidity": assays.Method.TURBIDITY,
    "meter": assays.Method.METER,
}
_QUANTITIES = {
    Field.FREE_CHLORINE: assays.Quantity.FREE_CHLORINE,
    Field.PH: assays.Quantity.PH,
    Field.ALKALINITY: assays.Quantity.ALKALINITY,
    Field.STABILISER: assays.Quantity.CYANURIC_ACID,
    Field.HARDNESS: assays.Quantity.HARDNESS,
    Field.SALT: assays.Quantity.SALT,
}
MEANS = ReasonKind(
    Code("advice.test_means"), "{what} {value} {unit} by {method} means {low} to {high} {unit} with 95 % (one test, done well)."
)
AT_LEAST = ReasonKind(
    Code("advice.test_at_least"),
    "{what} {value} {unit} by {method} lies above what the method can read ({most} {unit}): it means {low} or more, "
    "and nobody knows "
    "how much more. {why}.",
)
BLEACHED = ReasonKind(
    Code("advice.test_bleached"),
    "No colour can mean no chlorine or so much of it (above about 10 mg/L) that it bleaches the test. Dilute a "
    "sample with nine parts "
    "of tap water and test again before you add any.",
)
MISLEADS = ReasonKind(Code("advice.test_misleads"), "Take care: {why}.")
AGAINST_DROPS = ReasonKind(
    Code("advice.against_drops"),
    "By drops the same figure would mean {low} to {high} {unit}: enough to {decide}; strips tell the size, not the dose.",
)
SPLIT = ReasonKind(
    Code("advice.chlorine_split"),
    "Free {free} and total {total} mg/L leave {combined} mg/L combined ({low} to {high} with 95 %). Free "
    "chlorine is what is still "
    "ready to work, stabiliser's store included; combined is what has bound to what bathers bring; total is both.",
)
UNCERTAIN = ReasonKind(
    Code("advice.combined_uncertain"),
    "That can't be told from none: two tests this good differ by as much by chance. Nor does it rule out {high} mg/L{more}",
)
LOW = ReasonKind(Code("advice.combined_low"), "That is low (action is widely asked for above 0.4 mg/L, stricter codes say 0.2).")
RAISED = ReasonKind(
    Code("advice.combined_raised"),
    "That is raised: let sun and air at it, keep chlorine at its target, renew some water, find the load.",
)
HIGH = ReasonKind(
    Code("advice.combined_high"),
    "That is high: nobody swims until it is below 0.4 mg/L. Sun, air, fresh water and held chlorine take it.",
)
DEMAND = ReasonKind(
    Code("advice.combined_demand"),
    "Were it all monochloramine, {mg_l} mg/L of free chlorine would break it down. Ten times the combined is a "
    "rule for ammonia told "
    "as nitrogen, not for this figure; organic chloramines take more or do not go.",
)
IMPOSSIBLE_SPLIT = ReasonKind(
    Code("advice.combined_negative"),
    "Free above total is a test's error: it counts as no combined chlorine. Repeat both, free first.",
)


def meaning(field: Field, value: float, method: str) -> Answer:
    """What one result is worth. Raises Refused for a method that can't measure it or a value that no pool has."""
    about = ABOUT[field]
    if about.quantity is None:
        raise Refused(f"{about.words}: accepted is a quantity that is tested; this one is measured otherwise")
    checked(field, value)
    sigma = _sigma(about.quantity, method, value)
    unit = about.unit
    first = answer(MEANS, what=_begun(about.words), value=value, unit=unit, method=method, **_range(value, sigma))
    says: list[Said] = [first]
    asked, by = _QUANTITIES.get(field), _ASSAYS.get(method)
    if asked is not None and by is not None:
        try:
            row = assays.reach(asked, by)
            doubt = assays.doubt(asked, by, value)
        except ValueError:
            row, doubt = None, None
        if row is not None and value > row.upper:
            low = round(min(row.upper, max(0.0, value - Z95 * sigma)), 2)
            says[0] = answer(
                AT_LEAST, what=_begun(about.words), value=value, unit=unit, method=method, most=row.upper, low=low,
                why=_begun(row.misleads),
            )  # fmt: skip
        elif doubt is not None:
            says.append(warning(MISLEADS, why=doubt))
        elif row is not None:
            says.append(note(MISLEADS, why=row.misleads))
    if field is Field.FREE_CHLORINE and method in BLEACHING and value <= sigma:
        says.append(warning(BLEACHED))
    drops = sigma_of(about.quantity, "drops", value)
    if method == "strips" and drops is not None:
        decide = "decide on a dose" if field is not Field.PH else "decide on acid"
        says.append(note(AGAINST_DROPS, unit=unit, decide=decide, **_range(value, drops)))
    working = (Worked("one standard deviation of the method", sigma, unit, "common practice; no comparison is published"),)
    return Answer("test", tuple(says), (Figure(about.words, value, unit, sigma),), (), (), working)


def _begun(words: str) -> str:
    """A sentence's beginning; "pH" stays as it is."""
    return words if words.startswith("pH") else words[0].upper() + words[1:]


def chlorine_split(free_mg_l: float, total_mg_l: float, method: str) -> Answer:
    """What free and total chlorine say together. Raises Refused where free passes total by more than tests can err."""
    checked(Field.FREE_CHLORINE, free_mg_l)
    checked(Field.FREE_CHLORINE, total_mg_l)
    quantity = Quantity.FREE_CHLORINE
    each = [_sigma(quantity, method, value) for value in (free_mg_l, total_mg_l)]
    sigma = (each[0] ** 2 + each[1] ** 2) ** 0.5
    if free_mg_l - total_mg_l > max(0.2, Z95 * sigma):
        raise Refused(
            f"free chlorine = {free_mg_l:g} mg/L above total = {total_mg_l:g} mg/L: accepted is at most the total; "
            "repeat both tests in fresh samples, free first"
        )
    combined = max(0.0, total_mg_l - free_mg_l)
    facts = _range(combined, sigma)
    says: list[Said] = [answer(SPLIT, free=free_mg_l, total=total_mg_l, combined=round(combined, 2), **facts)]
    if free_mg_l > total_mg_l:
        says.append(warning(IMPOSSIBLE_SPLIT))
    says.append(_judged(combined, sigma))
    if combined > Z95 * sigma:
        says.append(note(DEMAND, mg_l=round(chloramines.chloramine_demand_mg_l(combined), 2)))
    if max(free_mg_l, total_mg_l) > 10.0 and method in BLEACHING:
        says.append(warning(MISLEADS, why="above about 10 mg/L the colour bleaches and reads low or none: dilute the sample"))
    working = (
        Worked("combined = total - free", combined, "mg/L"),
        Worked("standard deviation of the free result", each[0], "mg/L"),
        Worked("standard deviation of the total result", each[1], "mg/L"),
        Worked("of the difference: root of both squares", sigma, "mg/L"),
    )
    return Answer("test", tuple(says), (Figure("combined chlorine", combined, "mg/L", sigma),), (), (), working)


def _judged(combined: float, sigma: float) -> Said:
    if combined <= Z95 * sigma and combined < 1.0:
        high = round(combined + Z95 * sigma, 2)
        if high <= chloramines.ACTION_MG_L:
            return note(UNCERTAIN, high=high, more=", which is still low.")
        more = (
            f"; action is asked for above {chloramines.ACTION_MG_L:g}. Test again with a finer method; where it smells or "
            "stings, nobody swims."
        )
        return warning(UNCERTAIN, high=high, more=more)
    if combined > 1.0:
        return warning(HIGH)
    return warning(RAISED) if combined > chloramines.ACTION_MG_L else note(LOW)


def _sigma(quantity: Quantity, method: str, value: float) -> float:
    sigma = sigma_of(quantity, method, value)
    if sigma is None:
        raise Refused(f"method = {method!r} for {quantity.value}: accepted is one of {', '.join(methods_for(quantity))}")
    return sigma


def _range(value: float, sigma: float) -> dict[str, float]:
    return {"low": round(max(0.0, value - Z95 * sigma), 2), "high": round(value + Z95 * sigma, 2)}
