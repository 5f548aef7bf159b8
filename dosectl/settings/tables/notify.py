"""The tables of the file that say whom to call, by which routes, and who watches from outside."""

from typing import Any

from pydantic import Field

from dosectl.settings.tables.fields import REQUIRED, Strict, flag, number, one_of, text, words

CLOCK_PATTERN = r"^([01][0-9]|2[0-3]):[0-5][0-9]$"
CLOCK_WORDS = 'a time of the day such as "22:00"'

PERSONS_MAX = 6


def _files(why: str) -> Any:
    return Field(
        REQUIRED, min_length=1, max_length=6, description=why, json_schema_extra={"accepted": "a list of 1 to 6 file names"}
    )


class NotifyTable(Strict):
    """Who is called, and the outside watcher that alarms when we fall silent; left out: nobody is called."""

    heartbeat_file: str | None = text(
        None, why="file with the address, mode 600, called after whole good steps; its watcher alarms when we fall silent"
    )
    heartbeat_method: str = one_of(
        "post", "post", "get", why="post carries figures in its body; get carries the same figures in the address"
    )
    heartbeat_s: float = number(
        300.0, ge=30.0, le=1800.0, unit="s", why="how often; set the watcher to alarm after four of these; proposed"
    )


class PersonTable(Strict):
    """One person who is called. At least one route each, better two of different kind."""

    name: str = text(why="name, as others read it", longest=40)
    language: str = one_of("en", "en", "de", why="language of the texts")
    order: float = number(1.0, ge=1.0, le=9.0, unit="", why="1 is called first, the others when nobody answers")
    knows_pool: bool = flag(True, why="false: the texts are those for somebody who does not know the pool")
    routes: list[str] = _files("files, mode 600, with one route address each; the first is used alone for what can wait")
    urgent_routes: list[str] = words(
        (), why="files with addresses used for critical calls besides, such as one that sounds in quiet mode"
    )
    quiet_from: str = text("22:00", why="begin of the quiet hours, local time", pattern=CLOCK_PATTERN, accepted=CLOCK_WORDS)
    quiet_to: str = text("07:00", why="their end; critical calls never wait", pattern=CLOCK_PATTERN, accepted=CLOCK_WORDS)
