"""Enter what a person added to the pool by hand, so that the controller does not feed against it."""

from dosectl.core.requests.changes import HandAddition
from dosectl.core.requests.kind import (
    Argument,
    ArgumentType,
    Asked,
    Judgement,
    RequestKind,
    RequestView,
    Rights,
    granted,
    refused,
)
from dosectl.core.requests.products import HANDLED, STRENGTHS, supply
from dosectl.core.site import Site
from dosectl.model.reasons import Code, ReasonKind

# More at once is a slip or a catastrophe, and either way a test has to say what the water is. Own judgement.
MOST = {"free chlorine": 40.0, "alkalinity": 200.0, "stabiliser": 150.0, "salt": 8000.0, "hardness": 600.0, "borate": 100.0}
# Nobody adds less than this of what a product is for: a figure in litres or kilograms, most likely. A third to a tenth of what a
# test can show.
LITTLE = {"free chlorine": 0.1, "alkalinity": 0.5, "stabiliser": 1.0, "salt": 30.0, "hardness": 2.0, "borate": 0.5}

ENTERED = ReasonKind(
    Code("added_by_hand.entered"),
    "Entered: {amount} {unit} of {product}, which moves free chlorine by {chlorine_mg_l}, alkalinity by "
    "{alkalinity_mg_l}, stabiliser by "
    "{stabiliser_mg_l} and salt by {salt_mg_l} mg/L. The estimate counts it from now on; test once it has mixed.",
)
ENTERED_UNTRACKED = ReasonKind(
    Code("added_by_hand.entered_untracked"),
    "Entered: {amount} {unit} of {product}, which moves free chlorine by {chlorine_mg_l}, alkalinity by "
    "{alkalinity_mg_l}, stabiliser by {stabiliser_mg_l} and salt by {salt_mg_l} mg/L. Salt, hardness and borate are known from "
    "tests and settings alone, so test once it has mixed and enter the result.",
)
NO_STRENGTH = ReasonKind(
    Code("added_by_hand.strength"), "{why}. It was not entered: without the strength nobody knows what it did."
)
TOO_MUCH = ReasonKind(
    Code("added_by_hand.too_much"),
    "{amount} {unit} of {product} would move {what} by {change} mg/L, more than {most}. Look at the unit. If it "
    "is true, stop feeding, "
    "keep everybody out, and enter a water test instead.",
)
SMALL = ReasonKind(
    Code("added_by_hand.small"),
    "{amount} {unit} or {guess} {unit}? {amount} {unit} of {product} moves nothing that can be measured; it looks like litres or "
    "kilograms. Enter {guess}, or say that {amount} {unit} is as you mean it.",
)


def judge(site: Site, asked: Asked, view: RequestView) -> Judgement:
    """Turns an amount of a product into changes of the water."""
    said = {name: asked.number(name) for name in STRENGTHS if name in asked.arguments}
    percent, density = (asked.number(n) if n in asked.arguments else None for n in ("strength_percent", "density_kg_l"))
    hours_ago = asked.number("hours_ago") if "hours_ago" in asked.arguments else 0.0
    name, amount = asked.text("product"), asked.number("amount")
    try:
        found = supply(name, said, percent, density)
    except ValueError as error:
        return refused(asked.request, NO_STRENGTH, why=str(error))
    does = found.per_unit.scaled(amount / site.pool.volume_m3)
    changes = {
        "free chlorine": does.free_chlorine_mg_l,
        "alkalinity": does.ta_net_mg_l,
        "stabiliser": does.cya_mg_l,
        "salt": does.salt_mg_l,
        "hardness": does.hardness_mg_l,
        "borate": does.borate_b_mg_l,
    }
    facts: dict[str, float | str] = {"amount": amount, "unit": found.unit, "product": name}
    for what, most in MOST.items():
        if abs(changes[what]) > most:
            return refused(asked.request, TOO_MUCH, **facts, what=what, change=round(changes[what], 1), most=most)
    if all(abs(changes[what]) < least for what, least in LITTLE.items()) and not asked.yes("as_said"):
        return refused(asked.request, SMALL, **facts, guess=1000.0 * amount)
    change = HandAddition(
        request=asked.request.id,
        at_s=view.clock_s - 3600.0 * hours_ago,
        by=asked.request.by,
        product=name,
        free_chlorine_mg_l=does.free_chlorine_mg_l,
        alkalinity_mg_l=does.ta_net_mg_l,
        stabiliser_mg_l=does.cya_mg_l,
        hardness_mg_l=does.hardness_mg_l,
        salt_mg_l=does.salt_mg_l,
        borate_b_mg_l=does.borate_b_mg_l,
        carbon_mmol_l=does.dic_mmol_l,
        amount=amount,
        unit=found.unit,
        entered_s=view.clock_s,
    )
    untracked = any(abs(changes[what]) >= LITTLE[what] for what in ("salt", "hardness", "borate"))
    return granted(
        asked,
        ENTERED_UNTRACKED if untracked else ENTERED,
        change,
        **facts,
        chlorine_mg_l=round(does.free_chlorine_mg_l, 2),
        alkalinity_mg_l=round(does.ta_net_mg_l, 1),
        stabiliser_mg_l=round(does.cya_mg_l, 1),
        salt_mg_l=round(does.salt_mg_l, 1),
    )


ADDED_BY_HAND = RequestKind(
    code=Code("added_by_hand"),
    arguments=(
        Argument("product", ArgumentType.TEXT, "what was added", choices=HANDLED),
        Argument("amount", ArgumentType.NUMBER, "how much, mL of a liquid or g of a solid", ge=0.1, le=1e6),
        Argument("strength_trade_percent", ArgumentType.NUMBER, "liquid hypochlorite, trade %", required=False),
        Argument("strength_available_percent", ArgumentType.NUMBER, "available chlorine by weight, %", required=False),
        Argument("strength_naocl_percent", ArgumentType.NUMBER, "sodium hypochlorite by weight, %", required=False),
        Argument("strength_available_g_l", ArgumentType.NUMBER, "available chlorine, g/L", required=False),
        Argument("strength_percent", ArgumentType.NUMBER, "acid by weight, or purity of other products, %", required=False),
        Argument("density_kg_l", ArgumentType.NUMBER, "density of a liquid told by weight", unit="kg/L", required=False),
        Argument("hours_ago", ArgumentType.NUMBER, "how long ago; now if left out", unit="h", required=False, ge=0.0, le=48.0),
        Argument("as_said", ArgumentType.YES_NO, "the small amount is really meant", required=False),
    ),
    rights=Rights.ANYWHERE,
    help="Enter what was added to the pool by hand, so that the controller does not feed against it.",
    answers=(ENTERED, ENTERED_UNTRACKED, NO_STRENGTH, TOO_MUCH, SMALL),
    judge=judge,
)
