"""The demo's console: the daemon's view, beside it what only a simulator can know, marked as such."""

import json
import sys
import time
from datetime import datetime
from types import TracebackType
from typing import Any

from dosectl.cli.show import draw, local_time

LINE_EVERY_S = 1800.0
DRAW_EVERY_S = 0.25
BLOCKS = "▁▂▃▄▅▆▇█"


class Course:
    """What was seen so far: the last view, the truth, and how the day went."""

    def __init__(self) -> None:
        self.view: dict[str, Any] | None = None
        self.truth: dict[str, Any] | None = None
        self.faults: tuple[str, ...] = ()
        self.free: list[float] = []
        self.ph: list[float] = []
        self.in_band = 0
        self._first: datetime | None = None
        self._now: datetime | None = None
        self._children_at = 0.0

    def take(self, topic: str, payload: bytes) -> None:
        """One message of state, truth or standing faults."""
        try:
            body = json.loads(payload)
        except ValueError:
            return
        if topic.endswith("/sim/truth"):
            self.truth = body
            self.free.append(float(body["free_chlorine_mg_l"]))
            self.ph.append(float(body["ph"]))
            if self.view is not None:
                target = self.view["target"]
                self.in_band += target["low_mg_l"] <= self.free[-1] <= target["high_mg_l"]
        elif topic.endswith("/sim/faults"):
            self.faults = tuple(body.get("standing", ()))
        else:
            self.view = body
            self._now = datetime.fromisoformat(body["at_utc"])
            self._first = self._first or self._now

    def elapsed_s(self) -> float:
        """Simulated seconds since the first view."""
        return 0.0 if self._first is None or self._now is None else (self._now - self._first).total_seconds()

    def children_due(self) -> bool:
        """Once a second of the machine's time."""
        now = time.monotonic()
        if now < self._children_at:
            return False
        self._children_at = now + 1.0
        return True

    def spark(self, width: int = 72) -> str:
        """Free chlorine since the start, scaled to its own span."""
        if len(self.free) < 2:
            return ""
        step = max(1, len(self.free) // width)
        shown = self.free[::step][-width:]
        low, high = min(shown), max(shown)
        span = max(high - low, 0.5)
        return "".join(BLOCKS[min(7, int((value - low) / span * 7.99))] for value in shown)

    def summary(self) -> str:
        """How it went, by the simulator's truth."""
        if not self.free:
            return "nothing was seen"
        share = 100.0 * self.in_band / len(self.free)
        return (
            f"{self.elapsed_s() / 3600.0:.1f} simulated hours: true free chlorine {min(self.free):.2f} to "
            f"{max(self.free):.2f} mg/L, in its band {share:.1f} % of the time; true pH {min(self.ph):.2f} to {max(self.ph):.2f}"
        )


class Console:
    """Live on a terminal, a line each half hour elsewhere."""

    def __init__(self, plain: bool, broker: str, lacks: str) -> None:
        self._plain = plain or not sys.stdout.isatty()
        self._broker = f"broker: {broker}" + (f" ({lacks})" if lacks else "")
        self._live: Any = None
        self._due = 0.0
        self._line_due_s = 0.0

    def __enter__(self) -> "Console":
        banner = (
            "DEMO: a simulated pool; all names and data are invented, nothing real is fed. In a second terminal: "
            "'dosectl fault' lists faults to inject, 'dosectl status' and 'dosectl why' show more. Ctrl-C ends it."
        )
        print(banner, self._broker, sep="\n", flush=True)
        if not self._plain:
            from rich.live import Live

            self._live = Live(auto_refresh=False, screen=False)
            self._live.__enter__()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        if self._live is not None:
            self._live.__exit__(kind, error, trace)

    def show(self, course: Course) -> None:
        """Draws, not more often than a person can follow."""
        view = course.view
        if view is None:
            return
        if self._live is None:
            if course.elapsed_s() >= self._line_due_s:
                self._line_due_s = course.elapsed_s() + LINE_EVERY_S
                print(_line(course), flush=True)
            return
        now = time.monotonic()
        if now < self._due:
            return
        self._due = now + DRAW_EVERY_S
        from rich.text import Text

        more = [Text(""), Text(f"since the start  {course.spark()}")]
        if course.truth is not None:
            more.append(Text(_truth(course), style="dim"))
        if course.faults:
            more.append(Text(f"faults injected: {', '.join(course.faults)}", style="bold"))
        self._live.update(draw(view, more=tuple(more)), refresh=True)


def _truth(course: Course) -> str:
    truth = course.truth or {}
    return (
        f"simulator's truth, which the daemon never sees: free chlorine {truth.get('free_chlorine_mg_l', 0.0):.2f} mg/L, "
        f"pH {truth.get('ph', 0.0):.2f}, sun {truth.get('uv', 0.0):.0%}, bathers {truth.get('bathers', 0)}"
    )


def _line(course: Course) -> str:
    view = course.view or {}
    water, target = view["water"], view["target"]
    feeding = ", ".join(f"{f['id']} ON" if f["on"] else f"{f['id']} off: {f['code']}" for f in view["feeders"])
    alarms = ", ".join(alarm["code"] + ("" if alarm["present"] else " (over)") for alarm in view["alarms"]) or "none"
    true = f"{course.truth['free_chlorine_mg_l']:.2f}" if course.truth else "?"
    return (
        f"{local_time(view)}  free chlorine {water['free_chlorine_mg_l']:.1f} ({water['free_chlorine_low95_mg_l']:.1f}-"
        f"{water['free_chlorine_high95_mg_l']:.1f}; true {true})  target {target['mg_l']:.1f}  pH {water['ph']:.2f}  "
        f"{feeding}  alarms: {alarms}"
    )
