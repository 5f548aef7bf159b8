"""A starving healthy pool against a stuck probe: what the limits without a probe's answer cost the one and allow the other.

    python -m tests.benchmarks.tradeoff [days]      (21 days; some four minutes of one core)

The shares of usual use that bind where the probe has not answered (day, three days, and what is left after the trip) are scaled
together. Stuck: an electrode frozen low, with noise, that asks for all there is, at small losses. Healthy: a heat wave of 1.5
times the sun with parties, with an electrode that answers, and with a worn one that hardly shows any of it: the pool is well held
all the same, and only a hand test could tell it from one with a stuck probe. The small pool of tests/interlocks/healthy_pool.py;
usual use 2.0 mg/L a day, a cell of 0.4 mg/L an hour. --keep writes tests/benchmarks/results/tradeoff.txt.
"""

import sys
from dataclasses import dataclass
from pathlib import Path

from dosectl.core.interlocks.guards import chlorine_response, mass_learned
from dosectl.model.verdicts import Limit
from tests.builders import CELL
from tests.interlocks.healthy_pool import HealthyPool, Weather

RESULT = Path(__file__).parent / "results" / "tradeoff.txt"
SCALES = (0.6, 0.8, 1.0, 1.3, 1.7)
CUTTERS = {"mass.learned", "chlorine.response"}
HEAT = {day: Weather(sun=1.5) for day in range(6, 14)} | {3: Weather(party_mg_l=1.5), 16: Weather(sun=1.2, party_mg_l=2.0)}


@dataclass
class _Seen:
    highest: float = 0.0
    lowest: float = 99.0
    cut_h: float = 0.0
    flow_h: float = 0.0


def _scaled(scale: float) -> None:
    mass_learned.TIGHT_TIMES = 1.3 * scale
    mass_learned.TIGHT_MG_L_MAX = 11.0 * scale
    mass_learned.DAY_TIMES = 1.5 * scale
    mass_learned.DOUBT_SHARE = 0.3 * scale
    chlorine_response.FIRST_SHARE = 0.6 * scale
    chlorine_response.LATER_SHARE = 0.3 * scale


def _lived(pool: HealthyPool, days: int) -> _Seen:
    seen = _Seen()
    before_s = pool.clock_s
    for evidence, objections in pool.run(days):
        step_h, before_s = (pool.clock_s - before_s) / 3600.0, pool.clock_s
        seen.highest = max(seen.highest, pool.chlorine_mg_l)
        seen.lowest = min(seen.lowest, pool.chlorine_mg_l)
        if evidence.flow.proven:
            seen.flow_h += step_h
            cut = any(isinstance(v, Limit) and str(v.guard) in CUTTERS and v.mass_g <= 0.5 for v in objections[CELL])
            seen.cut_h += step_h * cut
    return seen


def main() -> None:
    words = [word for word in sys.argv[1:] if word != "--keep"]
    days = int(words[0]) if words else 21
    lines: list[str] = []

    def say(line: str) -> None:
        lines.append(line)
        print(line, flush=True)

    say(f"python -m tests.benchmarks.tradeoff {days}")
    say("highest free chlorine with a stuck probe [mg/L]; hours of flow cut and lowest free chlorine of a healthy pool")
    say("shares x    stuck, dark    stuck, little sun    healthy, heat, parties    the same, worn probe")
    for scale in SCALES:
        _scaled(scale)
        dark = _lived(HealthyPool(seed=4, noise_mv=2.0, stuck_mv=650.0, always_sun=0.0), days)
        shade = _lived(HealthyPool(seed=4, noise_mv=2.0, stuck_mv=650.0, always_sun=0.25), days)
        hot = _lived(HealthyPool(seed=5, days=HEAT), days)
        worn = _lived(HealthyPool(seed=6, days=HEAT, noise_mv=0.5, slope=0.05), days)
        cells = [f"{100 * seen.cut_h / seen.flow_h:9.1f} %  {seen.lowest:4.1f} mg/L" for seen in (hot, worn)]
        say(f"{scale:6.1f} {dark.highest:13.1f} {shade.highest:17.1f}       {cells[0]}      {cells[1]}")
    if "--keep" in sys.argv:
        RESULT.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
