"""What the probes showed of the water of each hand test of free chlorine and of pH, kept as long as the test, to compare the two.

Means of half an hour of settled flow (the blocks of the electrode's `swing`), as a single value is noise; those of a good day are
kept, for a test may be typed late. A test is given the last one before it, where that is young; else, as a party may have come
after the pump had stopped, the nearer of it and the next within a day; else none: nobody knows what was read then. While a trip
says of the electrode that it answers nothing, nothing is kept and what was goes: what a stuck electrode shows is no reference,
and beside it each honest test of a bloom was called a liar's.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.after_feed import SPOILT_S
from dosectl.core.interlocks.contradiction import contradiction
from dosectl.core.interlocks.swing import BLOCK_S, SETTLED_S, STOPPED_MIN, VALUE_EVERY_S, VALUES_MIN
from dosectl.core.interlocks.two_tests import rose_mv
from dosectl.model.feeds import Substance
from dosectl.model.signals import SignalId, SignalKind
from dosectl.model.water_tests import Beside, Quantity, Settled, WaterTest

PROBED = frozenset({Quantity.FREE_CHLORINE, Quantity.PH})
APART_S_MAX = 86400.0
KEPT_S = 26 * 3600.0  # a day, and that a test has a mean on either side
WIPED_MV, WIPED_S_MAX, WIPED_FED_MG_L = 8.0, 2 * 3600.0, 0.2  # engineering judgement: so little fed is 2 mV of a strong electrode
YOUNG_S = 7200.0  # bathers may take half of a pool's chlorine in an afternoon


@dataclass(frozen=True, slots=True)
class Gathering:
    """The half hour that runs: its begin and its last value [plant clock], sums, count."""

    began_s: float
    last_s: float
    orp_mv: float = 0.0
    ph: float = 0.0
    count: int = 0


def watched(
    evidence: Evidence, added: bool, silent: frozenset[SignalId], gathering: Gathering | None, settled: tuple[Settled, ...]
) -> tuple[Evidence, Gathering | None, tuple[Settled, ...]]:
    """The evidence with what stands beside its tests and the newest means, the half hour that runs, those of the last day.

    added : a test was entered in this step; silent : signals that a standing trip found without an answer
    """
    orp = evidence.site.first(SignalKind.ORP)
    if orp is None or orp.id in silent:
        return replace(evidence, beside=(), settled=None), None, ()
    checked_s = dict(evidence.standing.calibrated).get(orp.id)
    if gathering is not None and checked_s is not None and gathering.began_s <= checked_s:
        gathering = None  # of two electrodes, as it were
    gathering, mean = gathered(gathering, evidence)
    wiped_mv = _wiped_mv(evidence, settled, mean, checked_s)
    before = evidence.beside
    if wiped_mv > 0.0 and checked_s is not None:  # as the electrode would read it now; a test of then may be typed in later
        before = tuple(replace(b, orp_mv=b.orp_mv + wiped_mv) if b.at_s <= checked_s else b for b in before)
        settled = tuple(replace(old, orp_mv=old.orp_mv + wiped_mv) for old in settled)
    beside = kept(before, evidence.tests, added, settled, mean, evidence.clock_s, checked_s)
    if mean is not None:
        settled = (*(old for old in settled if mean.at_s - old.at_s <= KEPT_S), mean)
    return replace(evidence, beside=beside, settled=settled[-1] if settled else None), gathering, settled


def gathered(before: Gathering | None, evidence: Evidence) -> tuple[Gathering | None, Settled | None]:
    """The running half hour with a value more, at most one a minute; its means where it is complete, or nearly so at a stop."""
    since_s, clock_s = evidence.flow.since_s, evidence.clock_s
    if since_s is None or clock_s - since_s < SETTLED_S:
        return None, _means(before) if before is not None and before.count >= STOPPED_MIN else None
    if before is not None and clock_s - before.last_s < VALUE_EVERY_S:
        return before, None
    orp_mv, ph = evidence.followed(SignalKind.ORP), evidence.followed(SignalKind.PH)
    if orp_mv is None or ph is None:
        return None, None
    running = before if before is not None else Gathering(clock_s, clock_s)
    running = Gathering(running.began_s, clock_s, running.orp_mv + orp_mv, running.ph + ph, running.count + 1)
    if clock_s - running.began_s < BLOCK_S or running.count < VALUES_MIN:
        return running, None
    return None, _means(running)


def _wiped_mv(evidence: Evidence, settled: tuple[Settled, ...], new: Settled | None, checked_s: float | None) -> float:
    """What a check is seen to have lifted the ORP by. [mV]

    Only a plain step upwards from the last mean before it to the first after it, soon after each other, with hardly anything fed,
    nothing poured in that may still be mixing, and no contradiction open: what chlorine does in such an hour is less, and nobody
    may talk a spoiled kit's lies away by checks. Left where they were, the references made an electrode that wiping had lifted
    refuse honest tests.
    """
    if new is None or not settled or checked_s is None or not settled[-1].at_s <= checked_s < new.at_s:
        return 0.0
    step_mv, apart_s = rose_mv(settled[-1], new), new.at_s - settled[-1].at_s
    fed_mg_l = evidence.fed_mg_l(Substance.CHLORINE, evidence.clock_s - settled[-1].at_s)
    added_s = evidence.standing.added_s
    poured = added_s is not None and added_s >= settled[-1].at_s - SPOILT_S
    plain = step_mv >= WIPED_MV and apart_s <= WIPED_S_MAX and fed_mg_l <= WIPED_FED_MG_L and not poured
    return step_mv if plain and contradiction(evidence) is None else 0.0


def _means(of: Gathering) -> Settled:
    return Settled(of.last_s, of.orp_mv / of.count, of.ph / of.count)


def kept(
    before: tuple[Beside, ...],
    tests: tuple[WaterTest, ...],
    added: bool,
    settled: tuple[Settled, ...],
    new: Settled | None,
    clock_s: float,
    checked_s: float | None = None,
) -> tuple[Beside, ...]:
    """What stands beside the tests; the same object where nothing is new.

    added : a test was entered in this step; settled : the half hours that were complete before it, oldest first; new : one that
    became so in it; checked_s : when the electrode was last checked
    """
    if new is None and not (added and settled):
        return before
    means = settled if new is None else (*settled, new)
    known = {item.request for item in before}
    found: list[Beside] = []
    for test in _young(tests, clock_s):
        mean = _of(test, means) if test.request not in known else None
        if mean is not None:
            before_s = checked_s if checked_s is not None and checked_s <= mean.at_s else None
            found.append(Beside(test.request, mean.at_s, mean.orp_mv, mean.ph, before_s))
    if not found:
        return before
    there = {test.request for test in tests}
    return (*(item for item in before if item.request in there), *found)


def _of(test: WaterTest, means: tuple[Settled, ...]) -> Settled | None:
    """The means that tell of a test's water; None where the next ones are to be awaited, or none do.

    Only a test between two means has the nearer one of a whole day: typed most of a day late it was set beside what the probes
    showed when a bloom had been fed back, and the honest kit was called a liar's.
    """
    nearest = min(means, key=lambda mean: abs(mean.at_s - test.taken_s), default=None)
    between = bool(means) and means[0].at_s <= test.taken_s <= means[-1].at_s
    apart_s = APART_S_MAX if between else YOUNG_S
    return nearest if nearest is not None and abs(nearest.at_s - test.taken_s) <= apart_s else None


def _young(tests: tuple[WaterTest, ...], clock_s: float) -> Iterable[WaterTest]:
    """Tests of what the probes show, whose half hour may be the last or is yet to come."""
    return (t for t in tests if t.quantity in PROBED and t.taken_s >= clock_s - 2.0 * APART_S_MAX)
