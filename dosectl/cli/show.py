"""Draws the state view with rich: for `status` once, for the demo's console again and again."""

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

View = dict[str, Any]
MARKS = {"critical": "!!!", "high": "!!", "medium": "!", "low": ".", "notice": " "}


def local_time(view: View) -> str:
    """The view's moment in the pool's own time."""
    at = datetime.fromisoformat(view["at_utc"]).astimezone(ZoneInfo(view["pool"]["time_zone"]))
    return at.strftime("%a %d %b %H:%M")


def _headline(view: View) -> Text:
    marks = [
        name for name, on in (("SIMULATED", view["pool"]["simulated"]), ("DRY RUN: nothing is commanded", view["dry_run"])) if on
    ]
    if not view["bus"]["alive"]:
        marks.append("the bus is dead")
    if not view["journal"]["ok"]:
        marks.append("the record can't be written: nothing is fed")
    text = Text(f"{view['pool']['name']}  {local_time(view)}", style="bold")
    if marks:
        text.append("   " + "  |  ".join(marks), style="bold reverse")
    return text


def _water(view: View) -> Table:
    water, target = view["water"], view["target"]
    table = Table.grid(padding=(0, 2))
    table.add_row(
        "free chlorine",
        f"[b]{water['free_chlorine_mg_l']:.1f} mg/L[/b]",
        f"95 % sure of {water['free_chlorine_low95_mg_l']:.1f} to {water['free_chlorine_high95_mg_l']:.1f}",
    )
    fallback = "  [b]FALL-BACK[/b]" if target["fallback"] else ""
    table.add_row(
        "target",
        f"{target['mg_l']:.1f} mg/L",
        f"band {target['low_mg_l']:.1f} to {target['high_mg_l']:.1f}; {target['text']}{fallback}",
    )
    table.add_row(
        "pH", f"[b]{water['ph']:.2f}[/b]", f"± {water['ph_sigma']:.2f}; alkalinity about {water['alkalinity_mg_l']} mg/L"
    )
    table.add_row(
        "water", f"{water['temp_c']:.1f} °C", f"stabiliser {water['stabiliser_mg_l']} ± {water['stabiliser_sigma_mg_l']} mg/L"
    )
    flow = "proven" if view["flow"]["proven"] else "not proven"
    table.add_row("flow", flow, "" if view["flow"]["proven"] else "nothing is fed without it")
    return table


def _feeders(view: View) -> Table:
    table = Table(title="feeders", title_justify="left", show_edge=False, pad_edge=False, expand=True)
    for heading in ("feeder", "asked", "runs", "24 h mg/L", "why"):
        table.add_column(heading, ratio=1 if heading == "why" else None, no_wrap=heading != "why")
    for feeder in view["feeders"]:
        asked = f"ON {feeder['level']:.0%}" if feeder["on"] else "off"
        runs = {True: "yes", False: "no", None: "unknown"}[feeder["running"]]
        limits = "".join(f"\ntightest limit: {limit['text']}" for limit in feeder["limits"])
        table.add_row(
            f"{feeder['id']} ({feeder['substance']})", asked, runs, f"{feeder['fed_24h_mg_l']:.2f}", feeder["text"] + limits
        )
    return table


def _interlocks(view: View) -> RenderableType:
    denials = [row for row in view["interlocks"] if row["denies"]]
    if not denials:
        return Text("interlocks: nothing bars")
    table = Table(
        title="interlocks that bar", title_justify="left", show_edge=False, pad_edge=False, expand=True, show_header=False
    )
    table.add_column(no_wrap=True)
    table.add_column(no_wrap=True)
    table.add_column(ratio=1)
    for row in denials:
        latched = "LATCHED" if row["latched"] else ""
        table.add_row(f"{row['guard']} {latched}", ",".join(row["feeders"]), row["text"])
    return table


def _alarms(view: View) -> RenderableType:
    if not view["alarms"]:
        return Text("alarms: none")
    table = Table(title="alarms", title_justify="left", show_edge=False, pad_edge=False, expand=True, show_header=False)
    table.add_column(no_wrap=True)
    table.add_column(ratio=1)
    for alarm in view["alarms"]:
        known = ("known" if alarm["acked"] else "NEW") + ("" if alarm["present"] else ", over")
        table.add_row(f"{MARKS.get(alarm['priority'], '')} {alarm['priority']} {alarm['code']} {known}", alarm["text"])
    return table


def _signals(view: View) -> Table:
    table = Table(title="signals", title_justify="left", show_edge=False, pad_edge=False, expand=True)
    for heading in ("signal", "value", "status", "age s", ""):
        table.add_column(heading, ratio=1 if heading == "" else None, no_wrap=heading != "")
    for signal in view["signals"]:
        value = signal["value"]
        shown = (
            "-"
            if value is None
            else ("on" if value is True else "off" if value is False else f"{value:g} {signal['unit']}".strip())
        )
        age = "-" if signal["age_s"] is None else f"{signal['age_s']:.0f}"
        table.add_row(signal["id"], shown, signal["status"].replace("_", " "), age, signal["text"])
    return table


def draw(view: View, *, signals: bool = False, more: tuple[RenderableType, ...] = ()) -> Group:
    """The whole picture."""
    parts: list[RenderableType] = [
        _headline(view),
        _water(view),
        Text(""),
        _feeders(view),
        Text(""),
        _interlocks(view),
        _alarms(view),
    ]
    if signals:
        parts += [Text(""), _signals(view)]
    return Group(*parts, *more)
