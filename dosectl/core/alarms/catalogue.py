"""The alarm list: one table, of which documentation and tests are made. A new alarm is one row."""

from dosectl.core.alarms.row import Row
from dosectl.core.alarms.rows.feeding import FEEDING
from dosectl.core.alarms.rows.plant import PLANT
from dosectl.core.alarms.rows.probes import PROBES
from dosectl.core.alarms.rows.water import WATER
from dosectl.model.reasons import Code

ROWS: tuple[Row, ...] = (*FEEDING, *WATER, *PROBES, *PLANT)


def row_of(code: Code) -> Row:
    """The row of an alarm. Raises KeyError where the catalogue lacks it."""
    for row in ROWS:
        if row.code == code:
            return row
    raise KeyError(code)
