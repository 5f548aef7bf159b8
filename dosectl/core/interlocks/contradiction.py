"""Whether a hand test of free chlorine and what the probes showed beside it contradict each other.

A test that claims less than the ORP bears out is a spoiled reagent's, one bleached by strong chlorine, or a slip; or the
electrode lies. Nobody can tell which from the two alone, so such a test opens nothing. Each test is set against those of the
fortnight before that were not contradicted, each with what the probes showed beside it: raw evidence, judged anew each time.

What of one test the other explains stands in `two_tests`. A claim of more than the ORP bears out is a slip too: it bars as ever,
and is no reference.

It ends with a test that agrees with the ORP again, with a new electrode, with one of another method that shows the same little
(two kits of a different chemistry are not spoiled at once, so the electrode lies), or once contradicted tests went the way of the
ORP (`follows`): an electrode that shifted still follows the water, a spoiled kit does not. Time does not end it. A kit
that was contradicted opens nothing for a fortnight: once the chlorine has fallen to what it says, it agrees with the ORP again.
Unless it mends its figure within hours, by one that the tests before bear out: then it was a slip of the pen. Or it is seen to go
the way of the ORP: then it is fresh again, and honest tests are not refused for what the old bottle said.
"""

from dataclasses import dataclass

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.two_tests import (
    REFERENCE_S,
    SAME_S,
    Pair,
    agree,
    allowed_mv,
    another_method,
    chemistry,
    excess_mv,
    follows,
    half_mv,
    over_mv,
    short_mv,
)
from dosectl.model.signals import SignalKind
from dosectl.model.water_tests import Beside, Quantity, WaterTest

SEEN_S = 26 * 3600.0  # a day's pump hours and a late start: an electrode that was not read for so long is gone
MENDED_S = 6 * 3600.0  # so soon is a slip mended by the same kit; the water is not another within hours


@dataclass(frozen=True, slots=True)
class Contradiction:
    """The newest test that contradicts the ORP and the one it is set against, with what stood beside each.

    over_mv : what the ORP lies above all that the two tests explain; parted_s : when the first of such tests was taken
    """

    test: WaterTest
    beside: Beside
    before: WaterTest
    before_beside: Beside
    over_mv: float
    parted_s: float


@dataclass(frozen=True, slots=True)
class Judged:
    """Tests of free chlorine that were not contradicted, by when they were taken; and what contradicts by now, or None.

    borne_out : the newest of them lies well within what the ORP allows
    refused_s : when the last test of its kind was contradicted [plant clock], where nothing has cleared that since
    """

    accepted: tuple[WaterTest, ...]
    standing: Contradiction | None = None
    borne_out: bool = True
    refused_s: float | None = None

    def opens(self, clock_s: float) -> bool:
        """Whether the newest test may open a limit: its kit was not contradicted of late, and the ORP bears it out."""
        cleared = self.refused_s is None or clock_s - self.refused_s > REFERENCE_S
        return self.standing is None and self.borne_out and cleared


def judged(evidence: Evidence) -> Judged:
    """All tests of free chlorine, each set against those before it."""
    tests = tuple(sorted((t for t in evidence.tests if t.quantity is Quantity.FREE_CHLORINE), key=lambda t: t.taken_s))
    if len(tests) < 2 or not evidence.beside:
        return Judged(tests)
    now = evidence.settled
    return _JUDGED.of(tests, evidence.beside, _renewed(evidence), now is not None and evidence.clock_s - now.at_s <= SEEN_S)


def contradiction(evidence: Evidence) -> Contradiction | None:
    """What contradicts by now; None where nothing does."""
    return judged(evidence).standing


def _renewed(evidence: Evidence) -> float | None:
    """Plant clock [s] when the electrode was last replaced; None: not known to have been."""
    orp = evidence.site.first(SignalKind.ORP)
    return None if orp is None else evidence.standing.replaced_s(orp.id)


def _judged(tests: tuple[WaterTest, ...], beside: tuple[Beside, ...], renewed_s: float | None, read: bool) -> Judged:
    by_test = {item.request: item for item in beside}
    course = _Course(renewed_s, read)
    for test in tests:
        course.take(test, by_test.get(test.request))
    return course.found()


class _Course:
    """Tests one after another, and what is to be thought of each."""

    __slots__ = ("_accepted", "_borne_out", "_read", "_references", "_refused", "_refused_s", "_renewed_s", "_standing")

    def __init__(self, renewed_s: float | None, read: bool) -> None:
        """read : whether the electrode is read these days."""
        self._renewed_s, self._read = renewed_s, read
        self._accepted: list[WaterTest] = []
        self._references: list[Pair] = []
        self._refused: list[Pair] = []  # since the last test that was not contradicted
        self._refused_s: dict[str, tuple[float, ...]] = {}  # by chemistry
        self._standing: Contradiction | None = None
        self._borne_out = True

    def take(self, test: WaterTest, read: Beside | None) -> None:
        """The next test, and what was read beside it."""
        if self._standing is not None and another_method(test, self._refused) and not self._agrees(test, read):
            # Two kits agree, so the electrode lies: what it read before is no reference any more.
            self._references, self._refused_s = [], {}
            self._believe(test, read)
        elif read is None:
            if self._standing is None:  # nothing was read, so nothing contradicts, nor ends what does, nor bears it out
                self._accepted.append(test)
                # Beside an electrode that is read such a test was typed late. Where the electrode is gone it is all there is.
                self._forget(test)
                self._borne_out = not (self._read and self._references)
        else:
            self._set_against(test, read)

    def _set_against(self, test: WaterTest, read: Beside) -> None:
        pair = (test, read)
        renewed_s = self._renewed_s
        if self._standing is None:  # while one stands its references stay as they were
            self._forget(test)
        if renewed_s is not None and read.at_s > renewed_s:
            self._references = [old for old in self._references if old[1].at_s > renewed_s]
        if any(short_mv(old, pair) > half_mv(old[1], read) for old in self._references):
            self._accepted.append(test)  # far more than the ORP bears out: it may only bar, and nothing is set against it
            return
        if not self._references:
            self._believe(test, read)
            return
        worst = max(self._references, key=lambda old: excess_mv(old, pair))
        over, allowed = over_mv(worst, pair), allowed_mv(worst[1], read)
        goes_on = self._standing is not None and any(over_mv(old, pair, 0.0) > half_mv(old[1], read) for old in self._references)
        if over > allowed or goes_on:
            followed = next((old for old in reversed(self._refused) if follows(old, pair)), None)
            if followed is not None:
                self._references = [followed]  # where the electrode stood before its shift is no reference any more
                self._believe(test, read, borne_out=False)
                return
            self._refused.append(pair)
            kind = chemistry(test.method)
            self._refused_s[kind] = (*self._refused_s.get(kind, ()), test.taken_s)
            self._standing = Contradiction(test, read, *worst, over, self._refused[0][0].taken_s)
        else:
            borne_out = all(over_mv(old, pair) <= half_mv(old[1], read) for old in self._references)
            if borne_out:
                self._mended(test)
                self._fresh(pair)
            self._believe(test, read, borne_out)

    def _forget(self, test: WaterTest) -> None:
        """Drops the references that are too old for this test."""
        self._references = [old for old in self._references if test.taken_s - old[0].taken_s <= REFERENCE_S]

    def _fresh(self, pair: Pair) -> None:
        """Two tests since the last refusal, days apart, that went the way of the ORP: what says the same whatever happens did not
        say these."""
        kind = chemistry(pair[0].method)
        refused_s = max(self._refused_s.get(kind, ()), default=pair[0].taken_s)
        since = [old for old in self._references if old[0].taken_s > refused_s]
        if any(pair[0].taken_s - old[0].taken_s >= SAME_S and follows(old, pair) for old in since):
            self._refused_s.pop(kind, None)

    def _agrees(self, test: WaterTest, read: Beside | None) -> bool:
        """Whether the ORP bears this test out as it stands, its error apart."""
        return read is not None and all(over_mv(old, (test, read), 0.0) <= half_mv(old[1], read) for old in self._references)

    def _mended(self, test: WaterTest) -> None:
        """A slip is one figure, not what a kit says again and again: the one refused, hours before, another than this."""
        if len(self._refused) == 1:
            (slip, _), kind = self._refused[0], chemistry(test.method)
            if chemistry(slip.method) == kind and test.taken_s - slip.taken_s <= MENDED_S and not agree(test, slip):
                self._refused_s[kind] = self._refused_s[kind][:-1]

    def _believe(self, test: WaterTest, read: Beside | None, borne_out: bool = True) -> None:
        self._accepted.append(test)
        self._refused, self._standing, self._borne_out = [], None, borne_out
        if read is not None:
            self._references.append((test, read))

    def found(self) -> Judged:
        """What is to be thought by now."""
        standing, renewed_s = self._standing, self._renewed_s
        if standing is not None and renewed_s is not None and renewed_s > standing.beside.at_s:
            standing = None  # nothing speaks against the kit any more, nor for it: its tests stay refused
        refused = self._refused_s.get(chemistry(self._accepted[-1].method), ()) if self._accepted else ()
        return Judged(tuple(self._accepted), standing, self._borne_out, refused[-1] if refused else None)


class _Last:
    """The last judgement: the same tests are judged by several guards at every step."""

    __slots__ = ("_asked", "_found")

    def __init__(self) -> None:
        self._asked: tuple[tuple[WaterTest, ...], tuple[Beside, ...], float | None, bool] | None = None
        self._found = Judged(())

    def of(self, tests: tuple[WaterTest, ...], beside: tuple[Beside, ...], renewed_s: float | None, read: bool) -> Judged:
        asked = (tests, beside, renewed_s, read)
        if asked != self._asked:  # the same objects compare at once
            self._asked, self._found = asked, _judged(*asked)
        return self._found


_JUDGED = _Last()
