"""In a dry run no feeder runs, so its feedback is what was decided: else each decision to feed would end as a dead feeder."""

from collections.abc import Mapping

from dosectl.core.interlocks.dispatch import Dispatch
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId
from dosectl.model.instant import Instant
from dosectl.model.signals import Sample, SignalId

AGAIN_S = 2.0  # within the 3 s in which a feedback must speak


class DryFeedback:
    """Takes the plant's own word on its feeders out of the samples and puts the decision of the step before in its place."""

    def __init__(self, site: Site) -> None:
        self._feedback = {feeder.id: feeder.feedback for feeder in site.feeders if feeder.feedback is not None}
        self._said: dict[SignalId, tuple[bool, float]] = {}

    def __call__(self, samples: tuple[Sample, ...], dispatch: Mapping[FeederId, Dispatch], now: Instant) -> tuple[Sample, ...]:
        """The samples of this step, `dispatch` being what was asked until now."""
        ours = set(self._feedback.values())
        kept = [sample for sample in samples if sample.signal not in ours]
        for feeder, signal in self._feedback.items():
            on = dispatch[feeder].asked_on
            before = self._said.get(signal)
            if before is None or before[0] != on or now.mono_s - before[1] >= AGAIN_S:
                self._said[signal] = (on, now.mono_s)
                kept.append(Sample(signal, on, now))
        return tuple(kept)
