"""What any plant must offer to stand in for a pool: our own model, another model, or a recorded log.

A log player, for instance, needs a few dozen lines: `advance` moves its cursor and ignores the commands, `signals` gives the
row at the cursor, `truth` what is known of it (NaN for the rest), `set_fault` and `add_by_hand` raise KeyError.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol, runtime_checkable


@dataclass(frozen=True, slots=True)
class Truth:
    """What the water really is at one moment. A controller never sees it; NaN where a plant does not know.

    free_chlorine_mg_l : mean over the whole pool, what is not mixed in yet included; hocl_mg_l : of that, CYA and pH counted
    uv : sunlight at the pool that breaks chlorine down, a share of overhead clear sun
    loss_mg_l_day : rate at which chlorine vanishes just now
    fed_chlorine_g, fed_acid_g, lost_chlorine_g : totals since the start; acid in g of alkalinity removed, as CaCO3
    fed_without_flow_s : time for which any feeder ran without water flow
    """

    utc: datetime
    free_chlorine_mg_l: float
    combined_chlorine_mg_l: float
    hocl_mg_l: float
    ph: float
    temp_c: float
    cya_mg_l: float
    alkalinity_mg_l: float
    salt_g_l: float
    uv: float
    air_c: float
    rain_mm_h: float
    bathers: int
    pump_on: bool
    flow: bool
    cover_closed: bool
    loss_mg_l_day: float
    fed_chlorine_g: float
    fed_acid_g: float
    lost_chlorine_g: float
    fed_without_flow_s: float


@runtime_checkable
class Plant(Protocol):
    """A pool with its plant room, seen from the bus.

    Signals are raw, as the node would send them, by name: `orp_mv`, `ph`, `temp_c`, `flow`, `pump_w`, `salt_g_l`,
    `cover_closed`, `sunlight_percent`, and per feeder `{feeder}_a` or `{feeder}_running` (feedback measured at the load) and
    `{feeder}_percent` (container). A name that is absent is silence: the node did not send it.
    """

    @property
    def utc(self) -> datetime:
        """The plant's present moment, aware UTC."""
        ...

    @property
    def feeders(self) -> tuple[str, ...]:
        """Ids of the feeders, the keys that `advance` accepts."""
        ...

    def advance(self, dt_s: float, commands: Mapping[str, float]) -> None:
        """Lets `dt_s` seconds pass with each feeder's output held at a level of 0..1; absent means off.

        `dt_s` of 0 only applies the outputs, so that feedback follows at once. Raises ValueError for a negative time or a
        level outside 0..1, KeyError for an unknown feeder.
        """
        ...

    def signals(self) -> Mapping[str, float | bool]:
        """Raw signals at the present moment. Asking twice gives the same."""
        ...

    def truth(self) -> Truth:
        """What the water really is."""
        ...

    def set_fault(self, name: str, on: bool) -> None:
        """Starts or ends a named fault, at once. Raises KeyError for an unknown name, listing those there are."""
        ...

    def manual_test(self, quantity: str, method: str) -> float:
        """A water test by hand with its method's error. Raises KeyError where no such method measures the quantity."""
        ...

    def add_by_hand(self, product: str, amount: float) -> None:
        """Puts a product into the water, or (`{feeder}_container_ml`) into a feeder's container.

        The unit is in the product's name. Raises KeyError for an unknown one, ValueError for a negative amount.
        """
        ...
