"""Words for the causes that an alarm finds by itself, where no guard and no probe gives a reason."""

from dosectl.model.reasons import Code, ReasonKind

CAUSES: tuple[ReasonKind, ...] = (
    ReasonKind(Code("alarm.no_flow"), "The pump runs but no water moves, seen at {since}."),
    ReasonKind(Code("alarm.runs_though_off"), "{feeder} still ran at {since} though it had been asked off."),
    ReasonKind(Code("alarm.foreign"), "'{owner}' sent a command on {topic} at {since}."),
    ReasonKind(Code("alarm.ph_very_low"), "pH was {value} at {since}, the limit is {limit}."),
    ReasonKind(Code("alarm.ph_high"), "pH was {value} at {since}, the limit is {limit}."),
    ReasonKind(Code("alarm.chlorine_very_high"), "The cell read {value} mg/L at {since}, the limit is {limit} mg/L."),
    ReasonKind(Code("alarm.orp_low"), "ORP was {value} mV at {since}, the limit is {limit} mV."),
    ReasonKind(Code("alarm.freeze"), "The water was {value} °C at {since}, the limit is {limit} °C."),
    ReasonKind(
        Code("alarm.chlorine_low"), "Free chlorine was at most {high95_mg_l} mg/L at {since}; the target is {target_mg_l} mg/L."
    ),
    ReasonKind(
        Code("alarm.chlorine_unexplained"),
        "Free chlorine was at least {low95_mg_l} mg/L at {since}; the limit is {limit_mg_l} mg/L.",
    ),
    ReasonKind(Code("alarm.container_low"), "The container of {feeder} held {percent} % at {since}."),
    ReasonKind(Code("alarm.container_empty"), "The container of {feeder} was empty at {since}."),
    ReasonKind(Code("alarm.sample_flow"), "The sample flow switch was off at {since}."),
    ReasonKind(Code("alarm.signal_silent"), "{signal} gave no believable value when this was seen at {since}."),
    ReasonKind(
        Code("alarm.sunlight_dark"),
        "{signal} said next to nothing for {hours} h of daylight up to {since}: not believed. The sun is reckoned as it usually "
        "was here.",
    ),
    ReasonKind(Code("alarm.stop_input"), "The local stop or service isolator was set at {since}."),
    ReasonKind(
        Code("alarm.guards_unable"),
        "{guards}: found at {since}, for want of a signal or a figure. `dosectl guards` names each and what it lacks.",
    ),
    ReasonKind(Code("alarm.node_offline"), "Node {node}, which carries {feeder}, was found silent at {since}."),
    ReasonKind(Code("alarm.starts"), "{starts} starts up to {since}."),
    ReasonKind(Code("alarm.unclean_start"), "The run before {since} did not end in order."),
    ReasonKind(Code("alarm.record"), "The journal did not take the last record, seen at {since}."),
    ReasonKind(Code("alarm.forward"), "The oldest record that the server lacks was {hours} h old at {since}."),
    ReasonKind(Code("alarm.adapter"), "{count} fault(s) reported at {since}, the first: {fault}."),
    ReasonKind(
        Code("alarm.test_worth"),
        "At {since} {quantity} was known so loosely that the water may be out of its band for {percent} % of the hours; after a "
        "hand test it is {left_percent} %.",
    ),
    ReasonKind(Code("alarm.test_due"), "The last hand test of {quantity} was {days} days old at {since}."),
    ReasonKind(
        Code("alarm.test_differs"),
        "The hand test of {quantity} showed {tested} where {believed} was believed; both errors together do not explain that.",
    ),
    ReasonKind(
        Code("alarm.unfed_days"),
        "In the {days} days before {since} {fed_mg_l} mg/L of chlorine was fed; the pool usually takes {usual_mg_l} mg/L a day.",
    ),
    ReasonKind(
        Code("alarm.fed_weakly"),
        "Tests and probe show that some {percent} % of what {feeder} is booked for reached the water, as seen at {since}.",
    ),
    ReasonKind(
        Code("alarm.usual_over_ceiling"),
        "The usual day took {usual_mg_l} mg/L by the label, and no day may be fed more than {most_mg_l}: far less arrives.",
    ),
    ReasonKind(Code("alarm.away_alone"), "The owner is away at {since}, and {persons} person(s) are named to be called."),
    ReasonKind(
        Code("alarm.part_worn"), "The {what} of {part} was used for {used} of {lasts} (a probe: days, else hours) at {since}."
    ),
    ReasonKind(Code("alarm.calibration_due"), "The calibration of {probe} was {days} days old at {since}."),
    ReasonKind(Code("alarm.proof_due"), "The proof record of {feeder} was {age} old at {since}."),
    ReasonKind(
        Code("alarm.feeder_small"),
        "In the {flow_h} h of flow before {since} the chlorine feeder gave {fed_mg_l} of the {most_mg_l} mg/L it could, and the "
        "target is not reached: the feeder is too small for these hours, worn, or the demand is high.",
    ),
    ReasonKind(Code("alarm.pump_hours"), "{flow_h} h of flow in the day before {since}; one turnover needs {needed_h} h."),
)
