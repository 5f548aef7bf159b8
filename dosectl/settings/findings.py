"""What is wrong with a settings file, all of it at once, in words that a person can act on."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing to mend: where - what was found - why it matters - what to do.

    key : dotted key, "" for the file as a whole
    found : what the file says there, "" where it says nothing
    why, do : sentences without a closing full stop
    """

    key: str
    found: str
    why: str
    do: str

    def __str__(self) -> str:
        place = f"{self.key} = {self.found}" if self.key and self.found else self.key or self.found
        said = f"{place}: {self.why}." if place else f"{self.why}."
        return f"{said} {self.do[:1].upper()}{self.do[1:]}." if self.do else said


class SettingsError(Exception):
    """The file can't be used. `findings` holds every reason that could be seen; mend them all before the next try."""

    def __init__(self, path: str, findings: tuple[Finding, ...]) -> None:
        self.path = path
        self.findings = findings
        super().__init__("\n".join(f"{path}, {finding}" for finding in findings))


def shown(value: object, longest: int = 60) -> str:
    """A value as a TOML file would show it, cut to a length that fits a line."""
    if isinstance(value, bool):
        words = "true" if value else "false"
    elif isinstance(value, str):
        words = '"' + "".join(char if char.isprintable() else "?" for char in value) + '"'
    elif isinstance(value, dict):
        words = "a table"
    elif isinstance(value, list):
        words = "[" + ", ".join(shown(item, 20) for item in value[:8]) + (", ..." if len(value) > 8 else "") + "]"
    elif isinstance(value, float | int):
        words = f"{value:g}" if isinstance(value, float) else _whole(value)
    else:
        words = str(value)
    return words if len(words) <= longest else words[: longest - 3] + "..."


def _whole(value: int) -> str:
    # str() of a number with thousands of digits raises; TOML lets one write it
    return str(value) if abs(value) < 10**30 else "a number of more than 30 digits"
