"""Rows of a table that sets settings side by side: what each made of the same days."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from dosectl.rehearsal.tally import Tally

NAME_WIDTH = 24


def head(first: str) -> str:
    """The line above the rows."""
    columns = "target            in band   lowest  highest  pH             chlorine   acid     starts   alarms"
    return f"{first:{NAME_WIDTH}s}  {columns}"


def row_names(files: Sequence[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """A name for each file's row; where two would be the same they are numbered, and lines say which is which."""
    names = tuple(Path(file).name[:NAME_WIDTH] for file in files)
    if len(set(names)) == len(names):
        return names, ()
    numbered = tuple(f"{number} {name}"[:NAME_WIDTH] for number, name in enumerate(names, 1))
    return numbered, tuple(f"{number} is {file}" for number, file in enumerate(files, 1))


def row(name: str, tally: "Tally", chlorine_mg_l: float, acid_mg_l: float) -> str:
    """One row. chlorine_mg_l, acid_mg_l : fed over all of its days"""
    alarms = ", ".join(f"{code} {count}" for code, count in tally.alarms.items()) or "none"
    return (
        f"{name:{NAME_WIDTH}s}  {f'{span(tally.target_min, tally.target_max, 1)} mg/L':16s}  "
        f"{100.0 * tally.in_band_h / tally.hours:5.1f} %   {tally.free_min:5.2f}   {tally.free_max:5.2f}    "
        f"{tally.ph_min:.2f} to {tally.ph_max:.2f}   {chlorine_mg_l:5.1f} mg/L {acid_mg_l:4.1f} mg/L "
        f"{sum(tally.starts.values()) / (tally.hours / 24.0):5.1f}/d   {alarms}"
    )


def held_back(tally: "Tally") -> str:
    """What guards took of the hours of flow; two may hold in the same hour."""
    by_guard = sorted(((guard, hours) for guard, hours in tally.held.items() if hours >= 0.05), key=lambda item: -item[1])
    if not by_guard:
        return f"no guard held chlorine back in {tally.flow_h:.1f} h of flow"
    guards = ", ".join(f"{guard} {hours:.1f} h" for guard, hours in by_guard)
    return f"guards held chlorine back in {tally.lost_h + tally.empty_h:.1f} of {tally.flow_h:.1f} h of flow: {guards}"


def span(least: float, most: float, places: int) -> str:
    """Two figures as a person writes them, one where they are alike."""
    low, high = f"{least:.{places}f}", f"{most:.{places}f}"
    return low if low == high else f"{low} to {high}"
