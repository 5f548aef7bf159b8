"""A feeder's name stands for one substance for ever: what was fed under it is counted against that substance's limits."""

from dosectl.model.ledger import Ledger
from dosectl.settings.findings import Finding, SettingsError
from dosectl.settings.load import Loaded


def refuse_other_substance(loaded: Loaded, kept: Ledger | None) -> None:
    """Raises SettingsError where the settings give a name that has fed to a feeder of another substance."""
    feeds = {feeder.id: feeder.substance for feeder in loaded.site.feeders}
    findings = tuple(
        Finding(
            f"feeders.{name}",
            f"a feeder of {feeds[name].value}",
            f'the record has fed {fed.value} under the name "{name}", and counts it for that',
            "give the new feeder a name of its own; the record goes on counting the old one",
        )
        for name, fed in (() if kept is None else kept.misnamed(feeds))
    )
    if findings:
        raise SettingsError(str(loaded.path), findings)
