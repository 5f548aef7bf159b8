"""A closed loop whose steps go into a real journal, as the daemon's do."""

from collections import deque
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

from dosectl.daemon.confirmation import Sheets
from dosectl.daemon.record import Recorder
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.loop import ClosedLoop, Moment, demo_loaded
from dosectl.store.journal import Journal


class Recorded:
    """Quince House with its record; closed by `close`."""

    def __init__(self, folder: Path, seed: int = 3, name: str = "pool.journal", start: datetime = QUINCE_HOUSE_START) -> None:
        self.loaded = demo_loaded()
        self.plant = PoolPlant(quince_house(), start, seed)
        self.loop = ClosedLoop.of(self.loaded, self.plant, use_mg_l_day=2.4)
        self.journal = Journal.open(folder / name)
        self.journal.mark_start(self.plant.utc, 0.0)
        self._recorder = Recorder(self.journal, self.loop.plan.site, Sheets.of(None, self.loaded), None, dry=False)

    @property
    def path(self) -> Path:
        return self.journal.path

    def run(self, hours: float) -> Iterator[Moment]:
        for moment in self.loop.run(hours):
            self._recorder.record(moment.state, moment.decision, moment.snapshot)
            yield moment
        self.journal.flush()

    def pass_by(self, hours: float) -> Moment:
        return deque(self.run(hours), maxlen=1)[0]

    def close(self) -> None:
        self.journal.close()
