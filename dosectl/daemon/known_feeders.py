"""A feeder's name stands for one substance for ever: what was fed under it is counted against that substance's limits."""

from dosectl.model.ledger import Ledger
from dosectl.settings.findings import Finding, SettingsError
from dosectl.settings.load import Loaded


def refuse_other_substance(loaded: Loaded, kept: Ledger | None) -> None:
    """Raises SettingsError where the settings give a name in the record to a feeder of another substance."""
    fed = {} if kept is None else {book.feeder: book.substance for book in kept.feeders}
    findings = tuple(
        Finding(
            f"feeders.{feeder.id}",
            f"a feeder of {feeder.substance.value}",
            f'the record has fed {before.value} under the name "{feeder.id}", and counts it for that',
            "give the new feeder a name of its own; the record goes on counting the old one",
        )
        for feeder in loaded.site.feeders
        if (before := fed.get(feeder.id)) is not None and before is not feeder.substance
    )
    if findings:
        raise SettingsError(str(loaded.path), findings)
