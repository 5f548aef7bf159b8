"""How long parts have worked since they were new: a pump's tube and a cell by hours at full output, a probe by its age.

Hours are those of the ledger, mass over the rate at full output: what was booked and never fed counts too, so they err upwards,
by a few per cent. What was never entered as replaced counts from the begin of the record.
"""

from dataclasses import dataclass

from dosectl.core.alarms.params import AlarmParams
from dosectl.core.evidence import Standing
from dosectl.core.site import Site
from dosectl.model.ledger import Ledger
from dosectl.model.signals import SignalKind

HOUR_S, DAY_S = 3600.0, 86400.0
PROBES = (SignalKind.PH, SignalKind.ORP, SignalKind.FREE_CHLORINE)


@dataclass(frozen=True, slots=True)
class Part:
    """One part that wears. name : its feeder or probe; what : `tube`, `cell` or `probe`

    used, lasts : hours at full output of a tube or cell, days of a probe
    """

    name: str
    what: str
    used: float
    lasts: float

    @property
    def worn(self) -> bool:
        return self.used >= self.lasts

    @property
    def unit(self) -> str:
        return "days" if self.what == "probe" else "h"


def parts(site: Site, standing: Standing, ledger: Ledger, clock_s: float, params: AlarmParams) -> tuple[Part, ...]:
    """All parts that wear, feeders first."""
    new = {name: (at_s, fed_g) for name, at_s, fed_g in standing.replaced}
    totals = {book.feeder: book.total_g for book in ledger.feeders}
    found: list[Part] = []
    for feeder in site.feeders:
        if feeder.kind not in ("cell", "pump") or feeder.rate_g_s <= 0.0:
            continue
        _, before_g = new.get(str(feeder.id), (0.0, 0.0))
        hours = max(0.0, totals.get(feeder.id, 0.0) - before_g) / feeder.rate_g_s / HOUR_S
        cell = feeder.kind == "cell"
        found.append(Part(str(feeder.id), "cell" if cell else "tube", hours, params.cell_hours if cell else params.tube_hours))
    for signal in site.signals:
        if signal.kind in PROBES:
            at_s, _ = new.get(str(signal.id), (0.0, 0.0))
            found.append(Part(str(signal.id), "probe", max(0.0, clock_s - at_s) / DAY_S, params.probe_days))
    return tuple(found)
