"""How old the record is that a verb answers from: a daemon that runs writes every few seconds."""

from datetime import UTC, datetime

from dosectl.settings.load import Loaded

SILENT_S = 600.0  # a restart, a backup, a slow disk are over by then; own judgement


def is_stale(loaded: Loaded, utc: datetime) -> bool:
    """Whether the record's last moment is so long ago that the daemon can't be running. A simulated pool has its own time."""
    return not loaded.site.simulated and (datetime.now(UTC) - utc).total_seconds() > SILENT_S


def age_lines(loaded: Loaded, utc: datetime) -> tuple[str, ...]:
    """What to say before all else of a record that is old; nothing of a fresh one."""
    if not is_stale(loaded, utc):
        return ()
    hours = (datetime.now(UTC) - utc).total_seconds() / 3600.0
    ago = f"{hours / 24.0:.1f} days" if hours >= 48.0 else f"{hours:.1f} hours" if hours >= 2.0 else f"{60.0 * hours:.0f} minutes"
    return (f"As of {utc.astimezone(UTC):%Y-%m-%d %H:%M} UTC, {ago} ago; the daemon has not written since.",)


def age_facts(loaded: Loaded, utc: datetime) -> dict[str, object]:
    """The same as fields of JSON."""
    return {"as_of_utc": utc.isoformat(), "stale": is_stale(loaded, utc)}
