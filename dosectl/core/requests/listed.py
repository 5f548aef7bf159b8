"""An alarm of the list as far as a person may put it aside or judge it."""

from dataclasses import dataclass

from dosectl.model.reasons import Code


@dataclass(frozen=True, slots=True)
class ListedAlarm:
    """One alarm of the list, standing or not.

    standing : there is something of it to see; occurrence : its last, 0 before the first
    priority : its present one in words
    shelf_s_max : how long it may be shelved at that priority [s], 0 for never; shelvings : how often it was since it was normal
    shelved, out : put aside now; may_be_out : it may be taken out of service
    """

    code: Code
    occurrence: int
    standing: bool
    priority: str
    shelf_s_max: float
    shelvings: int
    shelved: bool
    out: bool
    may_be_out: bool


def find(listed: tuple[ListedAlarm, ...], code: str) -> ListedAlarm | None:
    """The alarm of a code, None where the list lacks it."""
    return next((alarm for alarm in listed if alarm.code == code), None)
