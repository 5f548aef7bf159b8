"""The shape of a row of the hazard log."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Hazard:
    """One hazard. No field may be empty: where nothing is to be said it says so in words.

    code : stable name; title : what happens; harms : to whom or what
    causes : what may bring it about; reaction : what is done by itself
    guards : codes of kinds of guards; alarms : codes of rows of the alarm catalogue
    tests : node ids, file and function, of the tests that inject it
    proof : step of the commissioning that shows it at the plant, by its number
    unguarded : why no guard stands against it, where none can
    left : what software does not hold; wired : which wired layer or which rule of the installation holds that
    """

    code: str
    title: str
    harms: str
    causes: str
    reaction: str
    guards: tuple[str, ...]
    alarms: tuple[str, ...]
    tests: tuple[str, ...]
    proof: str
    left: str
    wired: str
    unguarded: str = ""
