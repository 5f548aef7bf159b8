"""The campaign's results as a text table and as one self-contained page."""

from collections import Counter
from collections.abc import Iterable
from html import escape

from tests.benchmarks.campaign.cases import CASES, NOTED
from tests.benchmarks.campaign.runs import FREE_MAX_MG_L, PH_MAX, PH_MIN, Result

HEADS = (
    "fault", "phase", "pool", "FC max", "pH", "first objection", "first-out", "first alarm", "alarms",
    "no flow s", "both s", "fed Cl/acid", "twin Cl/acid", "after it", "harm bounds", "failed", "stood", "code",
)  # fmt: skip


def span(seconds: float | None) -> str:
    """A time in words short enough for a table."""
    if seconds is None:
        return "-"
    for unit, length_s in (("h", 3600.0), ("min", 60.0)):
        if seconds >= 2 * length_s:
            return f"{seconds / length_s:.1f} {unit}"
    return f"{seconds:.0f} s"


def row(r: Result) -> tuple[str, ...]:
    """One result as cells."""
    again = f"feeds after {r.feeds_again_h:g} h" if r.feeds_again_h is not None else ""
    latched = f"person: {r.latched}" if r.latched else ""
    return (
        r.fault, r.phase, r.pool, f"{r.free_max:.2f}", f"{r.ph_min:.2f}..{r.ph_max:.2f}", span(r.first_objection_s), r.first_out,
        f"{r.first_alarm} {span(r.first_alarm_s)}" if r.first_alarm else "-", r.alarms, f"{r.flowless_s:g}", f"{r.together_s:g}",
        f"{r.fed_chlorine:.1f}/{r.fed_acid:.1f}", f"{r.twin_chlorine:.1f}/{r.twin_acid:.1f}",
        "; ".join(filter(None, (again, latched))) or "-", r.harm, r.failures,
        "-" if r.stands_h is None else f"{r.stands_h:g} h", r.code,
    )  # fmt: skip


def _distance(r: Result) -> float:
    """How near a run came to a harm bound, 1 at the bound: chlorine from 3, pH from 7.5."""
    return max((r.free_max - 3.0) / (FREE_MAX_MG_L - 3.0), (7.5 - r.ph_min) / (7.5 - PH_MIN), (r.ph_max - 7.5) / (PH_MAX - 7.5))


def worst(results: Iterable[Result], count: int = 5) -> list[Result]:
    """The runs that came nearest to harm, each fault once."""
    found: dict[str, Result] = {}
    for result in sorted(results, key=_distance, reverse=True):
        found.setdefault(result.fault, result)
    return list(found.values())[:count]


def told(r: Result, number: int) -> list[str]:
    """A run in words: what was broken, what it did to the water, what was done and said."""
    broken = " Then: ".join(CASES[name].text for name in r.fault.split("+"))
    objection = f"the first to object was {r.first_out}, {span(r.first_objection_s)} in" if r.first_out else "nothing objected"
    call = f"the first call was {r.first_alarm}, {span(r.first_alarm_s)} in" if r.first_alarm else "nothing was called"
    bounds = "The harm bounds held." if r.harm == "held" else f"A harm bound was passed: {r.harm}."
    after = f"Afterwards a person had to clear {r.latched}." if r.latched else ""
    return [
        f"  {number}. {r.fault} ({r.pool}, begun in the phase {r.phase}). {broken}",
        f"     Free chlorine rose to {r.free_max:.2f} mg/L at most, pH lay between {r.ph_min:.2f} and {r.ph_max:.2f}; "
        f"{objection}; {call}. It was fed {r.fed_chlorine:.1f} mg/L of chlorine and {r.fed_acid:.1f} of acid, its twin "
        f"{r.twin_chlorine:.1f} and {r.twin_acid:.1f}. {bounds} {after}".rstrip(),
    ]


def held_by(r: Result) -> str:
    """A failing run and what holds it where software does not."""
    names = r.fault.split("+")
    layers = [f"{name}: {CASES[name].wired}" for name in names if CASES[name].wired]
    noted = NOTED.get(frozenset(names), "")
    return f"  {r.fault} ({r.phase}, {r.pool}): {r.failures}. {noted}{'; '.join(layers) or 'no wired layer is named'}"


def summary(results: list[Result], command: str, took_s: float, not_run: int) -> list[str]:
    """What a reader wants to know first."""
    failed = [r for r in results if r.failures]
    passed = [r for r in results if r.harm != "held"]
    lines = [
        f"{command}      ({took_s / 60:.0f} min)",
        f"{len(results)} runs, {len({r.fault for r in results})} faults; "
        f"{len(results) - len(failed)} as asked, {len(failed)} not" + (f"; {not_run} not run" if not_run else ""),
        "code that was judged (last commit of it): "
        + ", ".join(f"{code} in {number} runs" for code, number in Counter(r.code for r in results).most_common()),
        f"harm bounds (free chlorine <= {FREE_MAX_MG_L:g} mg/L, pH {PH_MIN} to {PH_MAX}): held in {len(results) - len(passed)}, "
        f"passed by our feeding in {sum(r.harm == 'OURS' for r in results)}, "
        f"passed without any feed of ours in {sum(r.harm != 'OURS' for r in passed)}",
        f"worst of all: free chlorine {max(r.free_max for r in results):.2f}, pH {min(r.ph_min for r in results):.2f} to "
        f"{max(r.ph_max for r in results):.2f}; both feeders together at most {max(r.together_s for r in results):g} s",
        "nearest to harm, the worst run of each:",
        *(line for number, r in enumerate(worst(results), 1) for line in told(r, number)),
    ]
    kinds = Counter((r.fault, r.failures.split(",")[0].split(" after ")[0]) for r in failed)
    if kinds:
        lines += ["not as asked:", *(f"  {fault}: {why} ({n} runs)" for (fault, why), n in sorted(kinds.items()))]
    if failed:
        lines += ["each run that is not as asked, and the wired layer that holds it:", *(held_by(r) for r in failed)]
    wired = sorted({(r.fault, name) for r in passed for name in r.fault.split("+") if CASES[name].wired})
    if wired:
        lines += ["held by a wired layer only:", *(f"  {fault}: {name}: {CASES[name].wired}" for fault, name in wired)]
    return lines


def text(results: list[Result], command: str, took_s: float, not_run: int = 0) -> str:
    """Summary and table."""
    rows = [HEADS, *(row(r) for r in results)]
    widths = [min(44, max(len(cells[i]) for cells in rows)) for i in range(len(HEADS))]
    table = ["  ".join(cell[:44].ljust(width) for cell, width in zip(cells, widths, strict=True)).rstrip() for cells in rows]
    return "\n".join([*summary(results, command, took_s, not_run), "", *table])


_STYLE = (
    "body{font:14px sans-serif;margin:1em}table{border-collapse:collapse}td,th{border:1px solid #999;padding:2px 6px}"
    "td{vertical-align:top}th{position:sticky;top:0;background:#eee}tr.bad td{background:#fdd}"
    "tr.wired td{background:#ffd}pre{white-space:pre-wrap}"
)


def html(results: list[Result], command: str, took_s: float, not_run: int = 0) -> str:
    """One page without anything from elsewhere. Each row's fault shows what it does when pointed at."""
    body = []
    for r in results:
        kind = "bad" if r.failures else "wired" if r.harm != "held" else ""
        tip = " | ".join(CASES[name].text for name in r.fault.split("+"))
        cells = "".join(f"<td>{escape(cell)}</td>" for cell in row(r))
        body.append(f'<tr class="{kind}" title="{escape(tip)}">{cells}</tr>')
    heads = "".join(f"<th>{escape(head)}</th>" for head in HEADS)
    lines = escape("\n".join(summary(results, command, took_s, not_run)))
    return (
        f'<!doctype html><html lang="en"><meta charset="utf-8"><title>Fault campaign</title><style>{_STYLE}</style>'
        f"<h1>Fault campaign</h1><pre>{lines}</pre><p>Red: not as asked. Yellow: a bound was passed, as it would have "
        f"been without any feed of ours; a wired layer must hold it.</p><table><tr>{heads}</tr>{''.join(body)}</table></html>\n"
    )
