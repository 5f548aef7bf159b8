"""The whole way from a path to everything that is set, or to every reason why not."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from dosectl.core.site import Site
from dosectl.settings import rooms
from dosectl.settings.advice import warnings_of
from dosectl.settings.bindings import SignalBinding
from dosectl.settings.broker import BrokerSettings, ForwardSettings, RelayTemplate
from dosectl.settings.checks import cross_findings
from dosectl.settings.digest import Fields, fields_of, with_digests
from dosectl.settings.findings import Finding, SettingsError, shown
from dosectl.settings.notify import NotifySettings, notify_from
from dosectl.settings.secret_files import read_secret
from dosectl.settings.site_from import bindings_from, relays_from, site_from
from dosectl.settings.tables.file import Tables, check_tables, read_toml
from dosectl.settings.tables.schema import BrokerTable, CalendarTable, ForwardTable
from dosectl.settings.tables.sections import Section, params_of

GUARDS = "guards."


@dataclass(frozen=True, slots=True)
class CalendarSettings:
    """Where the daemon writes the reminders each morning, and in which language."""

    path: Path
    language: str


@dataclass(frozen=True, slots=True)
class Loaded:
    """Everything that the file sets.

    params : by room ("probes", "estimate", ...) its params object; under "guards" a mapping from guard code to its params
    fields : every safety-relevant field, dotted, for the record and for `differences.before_after`
    warnings : sentences about what is allowed but deserves a look
    """

    path: Path
    site: Site
    params: Mapping[str, Any]
    bindings: tuple[SignalBinding, ...]
    relays: tuple[RelayTemplate, ...]
    broker: BrokerSettings
    journal_path: Path
    forward: ForwardSettings | None
    fields: Fields
    warnings: tuple[str, ...]
    notify: NotifySettings | None = None
    calendar: CalendarSettings | None = None


def load(path: Path | str) -> Loaded:
    """Reads and checks a settings file. Raises SettingsError with all findings where it can't be used; never anything else."""
    path = Path(path)
    return loaded_from(read_toml(path), path)


def loaded_from(data: dict[str, Any], path: Path, sections: tuple[Section, ...] | None = None) -> Loaded:
    """As `load`, from tables already read; `path` names the file in errors and is where relative files are looked for."""
    sections = rooms.sections() if sections is None else sections
    tables, findings = check_tables(data, sections)
    broker, broker_findings, broker_warnings = _broker(tables.broker, tables.pool.id, path.parent)
    forward, forward_findings, forward_warnings = _forward(tables.forward, path.parent)
    notify, notify_findings, notify_warnings = notify_from(tables, path.parent)
    findings = (*findings, *cross_findings(tables), *broker_findings, *forward_findings, *notify_findings)
    params = _params(tables, sections) if tables.complete else {}
    if findings or (findings := rooms.findings(params)):
        raise SettingsError(str(path), findings)
    site, bindings, relays = site_from(tables), bindings_from(tables), relays_from(tables)
    if left_out := rooms.without_findings(site):
        raise SettingsError(str(path), left_out)
    fields = fields_of(site, params, bindings, relays)
    site = with_digests(site, fields, rooms.bound(site, params))
    return Loaded(
        path=path,
        site=site,
        params=params,
        bindings=bindings,
        relays=relays,
        broker=broker,
        journal_path=path.parent / (tables.journal.file or f"{tables.pool.id}.journal"),
        forward=forward,
        fields=fields,
        warnings=(
            *broker_warnings,
            *forward_warnings,
            *notify_warnings,
            *warnings_of(tables, site),
            *rooms.without_warnings(site, params),
        ),
        notify=notify,
        calendar=None if tables.calendar is None else _calendar(tables.calendar, path.parent),
    )


def _params(tables: Tables, sections: tuple[Section, ...]) -> dict[str, Any]:
    guards: dict[str, Any] = {}
    params: dict[str, Any] = {"guards": guards}
    for section in sections:
        if section.path.startswith(GUARDS):
            guards[section.path.removeprefix(GUARDS)] = params_of(section, tables.rooms)
        else:
            params[section.path] = params_of(section, tables.rooms)
    return params


def _broker(table: BrokerTable, pool_id: str, beside: Path) -> tuple[BrokerSettings, tuple[Finding, ...], tuple[str, ...]]:
    password: str | None = None
    findings: tuple[Finding, ...] = ()
    warnings: tuple[str, ...] = ()
    if table.password_file is not None:
        password, findings, warnings = read_secret(beside / table.password_file, "broker.password_file")
    ca_file = str(beside / table.ca_file) if table.ca_file is not None else None
    if ca_file is not None and not _is_file(ca_file):
        why = "there is no such file, so the broker could not be told from another"
        findings = (
            *findings,
            Finding("broker.ca_file", shown(table.ca_file), why, "copy the broker's certificate authority there"),
        )
    settings = BrokerSettings(
        host=table.host,
        port=table.port,
        base=table.base or f"dosectl/{pool_id}",
        client_id=table.client_id or f"dosectl-{pool_id}",
        protocol=table.protocol,
        username=table.username,
        password=password,
        ca_file=ca_file,
        keepalive_s=table.keepalive_s,
    )
    return settings, findings, warnings


def _calendar(table: CalendarTable, beside: Path) -> CalendarSettings:
    return CalendarSettings(beside / table.file, table.language)


def _forward(table: ForwardTable | None, beside: Path) -> tuple[ForwardSettings | None, tuple[Finding, ...], tuple[str, ...]]:
    if table is None:
        return None, (), ()
    token: str | None = None
    findings: tuple[Finding, ...] = ()
    warnings: tuple[str, ...] = ()
    if table.token_file is not None:
        token, findings, warnings = read_secret(beside / table.token_file, "forward.token_file")
    if not _plain_url(table.url):
        why = "an address has a host, and no account or token in it: secrets are read from files"
        findings = (*findings, Finding("forward.url", "(not shown)", why, "write http://host:port and name a token_file"))
    return ForwardSettings(url=table.url, org=table.org, bucket=table.bucket, token=token), findings, warnings


def _plain_url(url: str) -> bool:
    try:
        parts = urlsplit(url)
        return bool(parts.hostname) and parts.username is None and not parts.query and (parts.port or 1) > 0
    except ValueError:
        return False


def _is_file(path: str) -> bool:
    try:
        return Path(path).is_file()
    except (OSError, ValueError):
        return False
