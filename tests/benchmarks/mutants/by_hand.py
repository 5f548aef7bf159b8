"""Mutants of what all guards lean on, written by hand: arbiter, ledger, memory, restart."""

from pathlib import Path

from tests.benchmarks.mutants.operators import Mutant

ROOT = Path(__file__).parents[3]
SHORT = {"i/": "dosectl/core/interlocks/", "c/": "dosectl/core/controller/"}
# name: (file, text, what it becomes)
CHANGES: dict[str, tuple[str, str, str]] = {
    "exception permits": (
        "i/arbiter.py",
        "return Denial(guard.code, why, latched=False, clears_by=ITSELF), memory\n\n\ndef judge",
        "return Permit(guard.code), memory\n\n\ndef judge",
    ),
    "unmet need permits": (
        "i/arbiter.py",
        "return Denial(guard.code, why, latched=False, clears_by=ITSELF), memory\n    try",
        "return Permit(guard.code), memory\n    try",
    ),
    "need not fitted permits": (
        "i/arbiter.py",
        "if reading is None or reading.status > need.worst:",
        "if reading is not None and reading.status > need.worst:",
    ),
    "feeder without guard fed": ("i/arbiter.py", "if feeder_id not in guarded:", "if False:"),
    "orphaned latch forgotten": ("i/arbiter.py", "verdicts.extend(orphaned)", "pass"),
    "loosest limit wins": ("i/arbiter.py", "return min(limits, key", "return max(limits, key"),
    "limit ignored": (
        "i/arbiter.py",
        "return max(limit.mass_g, 0.0) + left_g",
        "return math.inf",
    ),
    "denial ignored": ("i/arbiter.py", "if denial is not None:\n        return denial.why", "pass"),
    "both groups granted": (
        "i/arbiter.py",
        "if wish is not None and feeder.lockout_group == group:",
        "if wish is not None:",
    ),
    "the other group takes over at once": (
        "i/arbiter.py",
        "if dispatch[feeder.id].asked_on:\n            return",
        "if False:\n            return",
    ),
    "feeders of a substance do not share": ("i/arbiter.py", "limit is None or taken_g <= 0.0", "True"),
    "reservation not reported": (
        "i/arbiter.py",
        "            opened = (debit,)\n",
        "            opened = ()\n",
    ),
    "reservation not booked": (
        "i/arbiter.py",
        "            book = book.with_open(debit)\n",
        "            pass\n",
    ),
    "life past the limit": (
        "i/arbiter.py",
        "return min(site.expires_s, RESERVE_S, mass_g / (feeder.rate_g_s * wish.level))",
        "return min(site.expires_s, RESERVE_S)",
    ),
    "life twice as long": (
        "i/arbiter.py",
        "return min(site.expires_s, RESERVE_S, mass_g",
        "return min(2 * site.expires_s, RESERVE_S, mass_g",
    ),
    "OFF said once only": (
        "i/dispatch.py",
        "if agrees or now_s - before.off_said_s < REPEAT_OFF_S:",
        "if True:",
    ),
    "unknown feedback agrees with OFF": (
        "i/dispatch.py",
        "agrees = running is False or (running is None and before.off_count >= UNMETERED_OFF_REPEATS)",
        "agrees = running is not True",
    ),
    "unasked mass not booked": ("i/dispatch.py", "    if running:  # past", "    if False:  # past"),
    "lost commands forgotten": ("i/dispatch.py", "    older = tuple(", "    older = () and tuple("),
    "unmetered OFF gives the rest back": (
        "i/dispatch.py",
        "if running is False and feeder.metered:\n            return ledger.with_feeder(book.closed(now_s, book.open.used_g))",
        "if running is not True:\n            return ledger.with_feeder(book.closed(now_s, book.open.used_g))",
    ),
    "expired reservation gives the rest back": (
        "i/dispatch.py",
        "return ledger.with_feeder(book.closed(now_s, None)), 0.0",
        "return ledger.with_feeder(book.closed(now_s, book.open.used_g)), 0.0",
    ),
    "latch lost at a restart": (
        "i/guard.py",
        "Memory(latched=self.latched, count",
        "Memory(latched=None, count",
    ),
    "counts and marks lost at a restart": (
        "i/guard.py",
        "count=self.count, marks=self.marks)",
        "count=0, marks=())",
    ),
    "timers kept over a restart": (
        "i/guard.py",
        "return Memory(latched=self.latched, count=self.count, marks=self.marks)",
        "return self",
    ),
    "first latch reason overwritten": (
        "i/answers.py",
        "if memory.latched is None:\n        memory",
        "if True:\n        memory",
    ),
    "no latch is kept": (
        "i/answers.py",
        "memory = replace(memory, latched=why)",
        "return Denial(guard, why, True, clears_by), memory",
    ),
    "latch not inherited": (
        "i/inheriting.py",
        "after[heir] = replace(have, latched=memory.latched)",
        "pass",
    ),
    "memory without heir dropped": (
        "i/inheriting.py",
        "            after[key] = memory\n",
        "            pass\n",
    ),
    "ledger not persisted": (
        "c/begin.py",
        "    return Ledger((*closed, *new), ledger.next_no)",
        "    return Ledger(tuple(FeederLedger(f.id, substance=f.substance) for f in site.feeders), ledger.next_no)",
    ),
    "open reservation given back by a crash": (
        "c/begin.py",
        "entry.closed(clock_s, None)",
        "entry.closed(clock_s, 0.0)",
    ),
    "starts forgotten": (
        "c/begin.py",
        "starts = (*(s for s in clocks.starts_s if clock_s - s < STARTS_WINDOW_S), clock_s)",
        "starts = (clock_s,)",
    ),
    "off-time of an untrusted clock ages the windows": (
        "c/begin.py",
        "(max(0.0, start.off_s) if clocks.utc_trusted else 0.0)",
        "max(0.0, start.off_s)",
    ),
    "durable memories not kept": (
        "c/step.py",
        "        memories=_kept(durable.memories, working.memories, memories),\n",
        "        memories=durable.memories,\n",
    ),
    "fallback rate never falls": ("i/fallback.py", "LATER_SHARE if later else FIRST_SHARE", "FIRST_SHARE"),
    "usual use not raised": ("i/fallback.py", "RAISED_TIMES * usual_mg_l_day(evidence)", "usual_mg_l_day(evidence)"),
    "fallback unlimited": ("i/fallback.py", "room_g(evidence, Substance.CHLORINE, DAY_S, rate)", "1e9"),
    "median unlearnt": (
        "i/usage.py",
        "USUAL_CHLORINE_MG_L if len(days) < DAYS_NEEDED else _median(days)",
        "USUAL_CHLORINE_MG_L",
    ),
    "window twice as large": (
        "i/usage.py",
        "limit_mg_l * evidence.site.pool.volume_m3 - booked_g",
        "2 * limit_mg_l * evidence.site.pool.volume_m3 - booked_g",
    ),
    "last known side lost": (
        "i/slow_side.py",
        "return memory if clock_s < memory.marks[0] else replace(memory, count=UNSEEN, marks=())",
        "return replace(memory, count=UNSEEN, marks=())",
    ),
    "last good side holds for ever": (
        "i/slow_side.py",
        "return memory if clock_s < memory.marks[0] else replace(memory, count=UNSEEN, marks=())",
        "return memory",
    ),
    "first bad side counts as fine": (
        "i/slow_side.py",
        "return replace(memory, count=now, since_s=None, marks=())",
        "return replace(memory, count=FINE, since_s=None, marks=())",
    ),
    "an entry explains without bound": (
        "i/poured.py",
        "return min(UNEVEN * most, MOST_TIMES * abs(trips_at))",
        "return 1e9",
    ),
    "an entry explains far more than its size": (
        "i/poured.py",
        "min(UNEVEN * most, MOST_TIMES",
        "min(10 * UNEVEN * most + 0.3, MOST_TIMES",
    ),
    "an entry explains for ever": ("i/poured.py", "entry.at_s + MIXES_S >= from_s", "True"),
    "an entry explains what was before it": ("i/poured.py", "entry.at_s - SAID_LATE_S <= until_s", "True"),
    "an entry of the other sign explains": ("i/poured.py", "max(0.0, ph - _ph_after", "abs(ph - _ph_after"),
    "an entry explains a container's fall": (
        "i/guards/change_unfed.py",
        "if not evidence.standing.poured or self.kind is SignalKind.LEVEL:\n            return 0.0",
        "if not evidence.standing.poured:\n            return 0.0\n        if self.kind is SignalKind.LEVEL:\n"
        "            return 50.0",
    ),
    "an entry explains anew in each window": (
        "i/guards/change_unfed.py",
        "return memory.recent[2] if len(memory.recent) == 3 else 0.0",
        "return 0.0",
    ),
    "an entry opens a lock": (
        "i/guards/change_unfed.py",
        "if memory.latched is not None:\n            return standing(self.code, memory), memory\n        if not memory.marks",
        "if memory.latched is not None and not evidence.standing.poured:\n"
        "            return standing(self.code, memory), memory\n        if not memory.marks",
    ),
    "an entry of before the trip ends the hold": (
        "i/guards/change_unfed.py",
        "if entry.entered_s >= at_s)",
        "if True)",
    ),
    "what fell before an emptying is forgotten": (
        "i/guards/change_unfed.py",
        "began -= last - value",
        "began = value",
    ),
    "open reservation not in the window": (
        "dosectl/model/ledger.py",
        "return self.total_g - before",
        "return self.closed_g - before",
    ),
}


def of_the_rest() -> list[Mutant]:
    """All of them. Raises AssertionError where the text is not there (once) any more: mutants grow old too."""
    found = []
    for name, (short, old, new) in CHANGES.items():
        file = SHORT.get(short[:2], "") + short.removeprefix(short[:2]) if short[:2] in SHORT else short
        text = (ROOT / file).read_text(encoding="utf-8")
        assert text.count(old) == 1, f"{name}: {file} has {text.count(old)} places like that"
        module = file.removesuffix(".py").replace("/", ".")
        found.append(Mutant(f"by_hand:{name}", "by_hand", module, text.replace(old, new)))
    return found
