"""Feeding: what is wished, what is commanded.

Masses are in grams: chlorine as Cl2, acid as CaCO3 of alkalinity removed. Divided by the pool's volume in m3 both are mg/L,
and both compare across strengths.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import NewType

from dosectl.model.reasons import Reason

FeederId = NewType("FeederId", str)


class Substance(StrEnum):
    CHLORINE = "chlorine"  # g as Cl2
    ACID = "acid"  # g of alkalinity removed, as CaCO3


class Origin(StrEnum):
    """Who asks for a feed. Guards never see it but for the gate that lets a person dispense before a record exists."""

    CONTROL = "control"
    FALLBACK = "fallback"
    DISPENSE = "dispense"


@dataclass(frozen=True, slots=True)
class Wish:
    """A feed that control would like to run now.

    level : share of full output in (0, 1]; a relay takes 1 only
    mass_g : what is still wanted of this pulse [g]
    """

    feeder: FeederId
    origin: Origin
    level: float
    mass_g: float
    why: Reason


@dataclass(frozen=True, slots=True)
class FeedOn:
    """Run for at most `expires_s`, unless renewed. Sent only after its debit is on the disk.

    node_boot, node_valid_until_ms : the node's own boot and the counter value after which it must ignore this command;
        None for a plain relay that takes "on for N seconds"
    debit_no : the reservation this command draws on
    send : say it on the wire now; False between renewals, when the last command still lives
    """

    feeder: FeederId
    command_no: int
    level: float
    expires_s: float
    debit_no: int
    node_boot: str | None = None
    node_valid_until_ms: int | None = None
    send: bool = True


@dataclass(frozen=True, slots=True)
class FeedOff:
    """Do not run. `repeat`: the feedback does not show it off yet (or a stop was just decided), so say it on the wire now."""

    feeder: FeederId
    command_no: int
    why: Reason
    repeat: bool = False


FeedCommand = FeedOn | FeedOff
