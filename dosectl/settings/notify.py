"""Whom to call and how, out of the checked tables. Addresses of routes hold accounts and tokens, so they come from files."""

from dataclasses import dataclass, field
from datetime import time
from importlib.util import find_spec
from pathlib import Path

from dosectl.settings.findings import Finding
from dosectl.settings.secret_files import read_secret
from dosectl.settings.tables.file import Tables
from dosectl.settings.tables.notify import PERSONS_MAX, PersonTable

QUIET_MIN_MAX = 16 * 60


@dataclass(frozen=True, slots=True)
class RouteAddress:
    """One way to one person. name : the file's name, for logs and records; the address itself is never shown."""

    name: str
    url: str = field(repr=False)

    @property
    def kind(self) -> str:
        """What the address begins with, whether it is encrypted or not."""
        return self.url.partition("://")[0].lower().removesuffix("s")


@dataclass(frozen=True, slots=True)
class Person:
    """One person who is called.

    order : 1 is called first; knows_pool : False where the texts are those for somebody who does not know the pool
    routes : the first is used alone for what can wait; urgent_routes : used besides for critical calls
    quiet_from, quiet_to : quiet hours in the pool's local time
    """

    id: str
    name: str
    language: str
    order: float
    knows_pool: bool
    routes: tuple[RouteAddress, ...]
    urgent_routes: tuple[RouteAddress, ...] = ()
    quiet_from: time = time(22, 0)
    quiet_to: time = time(7, 0)


@dataclass(frozen=True, slots=True)
class WatcherSettings:
    """The outside watcher. period_s : how often it hears from us; post : with a body, else a plain GET."""

    url: str = field(repr=False)
    period_s: float = 300.0
    post: bool = True


@dataclass(frozen=True, slots=True)
class NotifySettings:
    """Persons in the order in which they are called."""

    persons: tuple[Person, ...]
    watcher: WatcherSettings | None = None


Found = tuple[NotifySettings | None, tuple[Finding, ...], tuple[str, ...]]


def notify_from(tables: Tables, beside: Path) -> Found:
    """The settings (None where nobody is to be called), findings that refuse them, warnings that don't."""
    table = tables.notify
    if table is None:
        return None, (), ()
    findings: list[Finding] = []
    warnings: list[str] = []
    if find_spec("apprise") is None:
        why = "the library that speaks to push services, mail and the like is not installed"
        findings.append(Finding("notify", "", why, 'install it with: pip install "dosectl[notify]"'))
    if len(tables.persons) > PERSONS_MAX:
        findings.append(
            Finding("notify.persons", f"{len(tables.persons)} tables", f"accepted are at most {PERSONS_MAX}", "leave some out")
        )
    persons = [_person(name, keys, beside, findings, warnings) for name, keys in tables.persons]
    watcher = None
    if table.heartbeat_file is not None:
        url = _address(table.heartbeat_file, "notify.heartbeat_file", beside, findings, warnings, ("http://", "https://"))
        watcher = WatcherSettings(url, table.heartbeat_s, table.heartbeat_method == "post")
    else:
        warnings.append("[notify] has no heartbeat_file: when this machine falls silent nobody is told. Name an outside watcher.")
    for person in persons:
        if len(person.routes) == 1:
            warnings.append(f"notify.persons.{person.id} has one route: when that fails nobody hears. Add one of another kind.")
        elif len({route.kind for route in person.routes}) == 1:
            why = "what takes one away takes all. Add one of another kind, such as mail beside push."
            warnings.append(f"notify.persons.{person.id}'s routes are all of one kind: {why}")
    if len(persons) == 1:
        warnings.append("[notify] has one person: name a second who is called when the first does not answer.")
    return NotifySettings(tuple(sorted(persons, key=lambda one: one.order)), watcher), tuple(findings), tuple(warnings)


def _person(name: str, keys: PersonTable, beside: Path, findings: list[Finding], warnings: list[str]) -> Person:
    routes = _routes(keys.routes, f"notify.persons.{name}.routes", beside, findings, warnings)
    urgent = _routes(keys.urgent_routes, f"notify.persons.{name}.urgent_routes", beside, findings, warnings)
    doubled = {route.name for route in routes} & {route.name for route in urgent}
    if doubled or len({route.name for route in routes}) < len(routes):
        why = "each route of a person needs a file name of its own: it stands for the route in the record"
        findings.append(Finding(f"notify.persons.{name}.routes", ", ".join(keys.routes), why, "rename a file"))
    start, end = time.fromisoformat(keys.quiet_from), time.fromisoformat(keys.quiet_to)
    quiet_min = (60 * (end.hour - start.hour) + end.minute - start.minute) % 1440
    if quiet_min > QUIET_MIN_MAX:
        why = f"{quiet_min / 60:.1f} quiet hours a day; accepted are at most {QUIET_MIN_MAX // 60}: what can wait never came"
        key, do = f"notify.persons.{name}.quiet_to", "set an earlier end or a later begin"
        findings.append(Finding(key, f'"{keys.quiet_to}"', why, do))
    return Person(
        id=name,
        name=keys.name,
        language=keys.language,
        order=keys.order,
        knows_pool=keys.knows_pool,
        routes=routes,
        urgent_routes=urgent,
        quiet_from=start,
        quiet_to=end,
    )


def _routes(files: list[str], key: str, beside: Path, findings: list[Finding], warnings: list[str]) -> tuple[RouteAddress, ...]:
    return tuple(RouteAddress(Path(file).stem, _address(file, key, beside, findings, warnings, ())) for file in files)


def _address(file: str, key: str, beside: Path, findings: list[Finding], warnings: list[str], starts: tuple[str, ...]) -> str:
    """The address in a file; what is wrong with it is said without showing it."""
    url, found, warned = read_secret(beside / file, key)
    findings.extend(found)
    warnings.extend(warned)
    if not found and ("://" not in url or (starts and not url.startswith(starts))):
        wanted = " or ".join(starts) if starts else "its kind, such as mailto:// or ntfys://"
        why = f"an address begins with {wanted}; a file without one reaches nobody"
        findings.append(Finding(key, f'"{file}"', why, "put the address alone in it, on one line"))
    return url
