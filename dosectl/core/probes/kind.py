"""The shape of a probe kind: what is believable for it. One file a kind, one line in the registry."""

from dataclasses import dataclass

from dosectl.model.reasons import ReasonKind
from dosectl.model.signals import SignalKind


@dataclass(frozen=True, slots=True)
class ProbeKind:
    """What a kind of signal can plausibly say.

    number : a number is accepted; switch : a bool is accepted (a kind may accept both)
    low, high : outside these the value is unbelievable: FAILURE [standard unit of the kind]
    spec_low, spec_high : outside these, yet believable: OUT_OF_SPEC
    step_max : a larger change within the step window is a FAILURE; None where a jump is natural
    proves : after a fault it must be good for the proving time before it is believed again
    flat : an exact repeat for a day is worth a look
    safe_on : for a meter used as a switch: in the hysteresis the state that errs to the safe side
    outside : the reason for a value outside low..high; jumped : for a step; odd : for a value out of specification
    """

    kind: SignalKind
    number: bool
    switch: bool
    outside: ReasonKind
    low: float = 0.0
    high: float = 0.0
    spec_low: float | None = None
    spec_high: float | None = None
    step_max: float | None = None
    proves: bool = False
    flat: bool = False
    safe_on: bool = False
    jumped: ReasonKind | None = None
    odd: ReasonKind | None = None

    @property
    def reasons(self) -> tuple[ReasonKind, ...]:
        """Every reason this kind may give."""
        return tuple(reason for reason in (self.outside, self.jumped, self.odd) if reason is not None)
