"""What held a feed, in a few words for who reads an account. A guard's own name stands where nobody wrote any."""

from collections.abc import Mapping

from dosectl.texts.languages import translated

GUARDS: Mapping[str, str] = {
    "run.ending": "the controller ends",
    "stop.manual": "stopped by hand",
    "stop.service": "work at the plant",
    "flow.proven": "no proven water flow",
    "flow.settle": "fresh water for the probes awaited",
    "flow.honesty": "a flow switch that can't be trusted",
    "flow.gas": "a feed into still water",
    "water.path": "the valve is not set to filter",
    "start.hold": "the wait after a start",
    "record.store": "the record can't be written",
    "record.gap": "a record that is lost or an old copy",
    "bus.echo": "no answer of the broker",
    "queue.age": "the controller was behind",
    "clock.doubt": "doubt of the clock",
    "node.online": "a silent node",
    "owner.foreign": "another program's command",
    "messages.order": "wrong messages",
    "config.confirm": "settings not confirmed",
    "proof.gate": "no proof record",
    "dispense.limit": "a run that was asked for at the plant",
    "lockout.both": "both feeders at once",
    "lockout.spacing": "the other feeder's turn",
    "feeder.runs": "a feeder that ran unasked",
    "feeder.still": "a feeder that stood still",
    "feeder.unseen": "a feeder that can't be seen",
    "change.unfed": "a change with nothing fed",
    "probe.orp": "the ORP probe",
    "probe.ph": "the pH probe",
    "probe.sample": "no fresh water at the probes",
    "probe.liveness": "a probe that does not react",
    "probe.glass": "a pH probe that reads 7 in any water",
    "probe.agreement": "two probes that disagree",
    "high.orp": "ORP too high",
    "high.chlorine": "chlorine too high",
    "high.tested": "a hand test above the limit",
    "high.ph": "pH out of its limits",
    "low.ph": "pH too low",
    "acid.response": "acid without effect",
    "acid.budget": "the alkalinity that acid may use",
    "response.wrong_way": "a wrong answer of the water",
    "chlorine.response": "chlorine without effect",
    "test.contradicted": "a hand test that the ORP contradicts",
    "container.level": "an empty container",
    "cell.power": "the cell's current or voltage",
    "salt.level": "the salt",
    "cold.water": "cold water",
    "cold.cell": "water too cold for the cell",
    "cover.closed": "a closed cover",
    "mixing.wait": "the last feed mixed first",
    "mass.single": "the limit of one feed",
    "mass.hour": "the hourly limit",
    "mass.day": "the daily limit",
    "mass.learned": "far more than usual",
    "arbiter": "the last check before a feed",
}


def guard_words(code: str, language: str) -> str:
    """Words of a guard by its code; `change.unfed.ph` is told as `change.unfed`."""
    name = code
    while name and name not in GUARDS:
        name = name.rpartition(".")[0]
    return translated(GUARDS[name], language) if name else code
