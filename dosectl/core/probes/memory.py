"""What the probe room remembers between steps: working memory, rebuilt after a restart."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

from dosectl.core.probes.kind import ProbeKind
from dosectl.core.site import Signal, Site
from dosectl.model.reasons import Reason
from dosectl.model.signals import Reading, SignalId


@dataclass(frozen=True, slots=True)
class Trouble:
    """What stands against a signal, beside its last sample.

    prove_until_s : it counts as failed until then, unless it fails again
    lost : it went silent past its age limit; its next sample starts the proving
    faults_s : plant clock of the faults of the last 24 h
    drops_s : plant clock of the messages refused lately; doubt_until_s : too many were, so nothing of it is believed until then
    doubt : the reason shown meanwhile
    """

    prove_until_s: float | None = None
    lost: bool = False
    faults_s: tuple[float, ...] = ()
    drops_s: tuple[float, ...] = ()
    doubt_until_s: float | None = None
    doubt: Reason | None = None


CLEAN = Trouble()


class Track(NamedTuple):
    """The course of one signal. A named tuple: one is made for each sample, and it costs a quarter of a frozen dataclass.

    expires_s : plant clock at which the last sample is too old
    changed_s : plant clock of the last sample that differed from the one before
    recents : (plant clock, calibrated value) of the step window, thinned
    burst_from_s, burst_count : messages since that time, for the rate limit
    on : the switch state of a meter with a threshold
    """

    raw: float | bool | None
    expires_s: float
    seq: int | None
    source_utc: datetime | None
    changed_s: float
    recents: tuple[tuple[float, float], ...]
    burst_from_s: float
    burst_count: int
    on: bool | None
    trouble: Trouble


NEVER = Track(None, float("inf"), None, None, 0.0, (), float("-inf"), 0, None, CLEAN)


class Rule(NamedTuple):
    """A signal with its kind's row, looked up once, and the window in which its messages are counted [s]."""

    signal: Signal
    kind: ProbeKind
    burst_s: float


@dataclass(frozen=True, slots=True)
class Layout:
    """The rules of a site by signal; made again when the site is another object."""

    site: Site
    rules: Mapping[SignalId, Rule]


@dataclass(frozen=True, slots=True)
class ProbeMemory:
    """All tracks and the last readings.

    check_at_s : no reading can be too old before this plant clock
    """

    layout: Layout | None = None
    tracks: Mapping[SignalId, Track] | None = None
    readings: Mapping[SignalId, Reading] | None = None
    check_at_s: float = float("inf")
