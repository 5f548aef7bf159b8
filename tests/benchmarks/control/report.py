"""The comparison as a table and a plot."""

from collections.abc import Mapping, Sequence
from html import escape
from statistics import median

from tests.benchmarks.control.count import BANDS, Count
from tests.benchmarks.control.trial import Job

Results = Mapping[tuple[str, str], Sequence[tuple[Job, Count]]]
TITLE = "Hours with free chlorine under 75 % or over 150 % of the target, % (bar: mean, line: worst seed)"
COLOURS = ("#1b6f6a", "#b8672f", "#7a6a9c", "#8d8d3a", "#4d7fb0", "#a34f6b", "#777777")


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values) if values else 0.0


def line(scenario: str, way: str, runs: Sequence[tuple[Job, Count]], oracle: Sequence[tuple[Job, Count]]) -> str:
    """One row of the table: hours out of the band (mean, worst), parts of it, and the rest of what is counted."""
    counts = [count for _, count in runs]
    bad = [100.0 * count.bad_share for count in counts]
    hours = sum(count.hours for count in counts)
    used = "    -"
    if oracle:
        used = f"{_mean([count.chlorine_g / best.chlorine_g for (_, count), (_, best) in zip(runs, oracle, strict=True)]):5.2f}"
    bands = "  ".join(f"{100.0 * sum(c.inside[name] for c in counts) / hours:3.0f}" for name in BANDS)
    stated = bands if way.startswith("dosectl") else "  -    -    -"
    dead = 100.0 * sum(count.dead_h - count.cold_dead_h for count in counts) / hours
    out_h = sum(c.low_h + c.high_h for c in counts)
    called = f"{100.0 * sum(c.called_h for c in counts) / out_h:5.0f}" if way.startswith("dosectl") and out_h > 0.0 else "    -"
    dry = f"{sum(c.dry_s for c in counts):4.0f}" if way.startswith("dosectl") else "   -"
    return (
        f"{scenario:6s} {way:19s} {_mean(bad):6.1f} {max(bad):6.1f}  {100.0 * sum(c.low_h for c in counts) / hours:6.1f} "
        f"{100.0 * sum(c.high_h for c in counts) / hours:5.1f}  {dead:6.2f} {100.0 * sum(c.cold_h for c in counts) / hours:5.1f} "
        f"{sum(c.over_h for c in counts):6.1f} {100.0 * sum(c.ph_out_h for c in counts) / hours:6.2f}  {used} "
        f"{_mean([c.starts / (c.hours / 24.0) for c in counts]):6.1f}  {stated}  {sum(c.latched for c in counts):3d} "
        f"{dry}  {called}"
    )


def paired(results: Results, scenarios: Sequence[str], against: str) -> str:
    """dosectl beside one other way, pool by pool: hours out of the band, of the other's, and in how many pools they are fewer."""
    rows = [f"dosectl beside {against}, pool by pool: hours out of the band as a share of the other's, and pools with fewer"]
    for scenario in scenarios:
        pairs = list(zip(results.get((scenario, "dosectl"), ()), results.get((scenario, against), ()), strict=False))
        if not pairs:
            continue
        ours, theirs = (sum(pair[side][1].low_h + pair[side][1].high_h for pair in pairs) for side in (0, 1))
        fewer = sum(own.bad_share < other.bad_share for (_, own), (_, other) in pairs)
        middle = median(own.bad_share - other.bad_share for (_, own), (_, other) in pairs)
        share = f"{ours / theirs:4.2f}" if theirs > 0.0 else "   -"
        rows.append(f"{scenario:6s} {share}  {fewer:2d} of {len(pairs)}; middle difference {100.0 * middle:+.1f} % of hours")
    return "\n".join(rows)


HEAD = (
    "pools  held by             out of band %   of hours %    HOCl<0.01 barred   over   pH out   used  starts  in stated     "
    "latched     called\n"
    "                             mean  worst      low  high        %  by cold %      h       %  /best  a day  50   90   99 %"
    "    no flow s of it %"
)

NOTES = """\
The simulated pool and dosectl's estimate share the forms and constants of their laws (cyanurate, sunlight, demand that
doubles with 10 degrees, a logarithmic electrode): no independent plant. Each pool's own figures are drawn, and dosectl is
told what an owner believes. All but the oracle and "dosectl new" are told what the same pool took in the fortnight before,
in another weather, held well (`usual_mg_l_day` in trial.py): dosectl as 14 accepted days of use, the others as a level to
start at; a timer may start at half of its output instead, where its tuning found that better (`trust` in tuned.py). Every
chlorine test trims the set point of the ways that are trimmed, held against the last reading of flow. A container (chlorine
60 L, acid 20 L) below 40 % is refilled in all of them; whoever leaves fills up first, and then nobody does. "used" is set
beside the oracle's, which knows the water and the demand but plans no further than the night: it is no upper bound, and
where a feeder is too small for the day it is beaten. "no flow": this loop's steps are two minutes, and a feed ends with the
step in which the pump stops; in steps of 30 s or less the same runs have none (the daemon's commands live 10 s). The other
ways are not watched for it."""


def plot(results: Results, scenarios: Sequence[str], ways: Sequence[str]) -> str:
    """Grouped bars, mean share of hours out of the band, the worst seed as a thin line. SVG."""
    width, height, left, top = 1060, 430, 50, 40
    span = (width - left - 20) / len(scenarios)
    bar = span * 0.84 / len(ways)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height + 90}" '
        'font-family="sans-serif" font-size="12">',
        f'<text x="{left}" y="20">{TITLE}</text>',
    ]
    for percent in range(0, 101, 20):
        y = top + (height - top) * (1.0 - percent / 100.0)
        parts.append(f'<line x1="{left}" x2="{width - 20}" y1="{y:.1f}" y2="{y:.1f}" stroke="#ddd"/>')
        parts.append(f'<text x="{left - 8}" y="{y + 4:.1f}" text-anchor="end">{percent}</text>')
    for place, scenario in enumerate(scenarios):
        x0 = left + span * place + span * 0.08
        parts.append(f'<text x="{x0 + span * 0.42:.1f}" y="{height + 18}" text-anchor="middle">{escape(scenario)}</text>')
        for number, way in enumerate(ways):
            bad = [100.0 * count.bad_share for _, count in results.get((scenario, way), ())]
            if not bad:
                continue
            x = x0 + bar * number
            y, high = (top + (height - top) * (1.0 - value / 100.0) for value in (_mean(bad), max(bad)))
            colour = COLOURS[number % len(COLOURS)]
            parts.append(f'<rect x="{x:.1f}" y="{y:.1f}" width="{bar * 0.85:.1f}" height="{height - y:.1f}" fill="{colour}"/>')
            middle = x + bar * 0.42
            parts.append(f'<line x1="{middle:.1f}" x2="{middle:.1f}" y1="{high:.1f}" y2="{y:.1f}" stroke="{colour}"/>')
    for number, way in enumerate(ways):
        x = left + 145 * number
        parts.append(f'<rect x="{x}" y="{height + 40}" width="12" height="12" fill="{COLOURS[number % len(COLOURS)]}"/>')
        parts.append(f'<text x="{x + 17}" y="{height + 50}">{escape(way)}</text>')
    return "\n".join([*parts, "</svg>", ""])


def worst_told(job: Job, count: Count) -> str:
    """The worst run, day by day: truth against what was believed, and what happened until that morning."""
    kind = "pump" if job.pump else "cell"
    rows = [f"{job.scenario}, seed {job.seed}, {kind}: {100 * count.bad_share:.1f} % of hours out of the band"]
    rows.append("day   true  believed (95 %)      stabiliser true, believed   what happened")
    for number, (true, believed, low, high, cya, cya_believed) in enumerate(count.days):
        told = count.told[number] if number < len(count.told) else ""
        rows.append(
            f"{number:3d}  {true:5.2f}  {believed:5.2f} ({low:.2f}-{high:.2f})   {cya:4.0f} {cya_believed:4.0f}   {told}".rstrip()
        )
    return "\n".join(rows)
