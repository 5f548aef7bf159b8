"""The alarm list: one table, of which documentation and tests are made. A new alarm is one row."""

from collections.abc import Mapping

from dosectl.core.alarms.row import Row
from dosectl.core.alarms.rows.feeding import FEEDING
from dosectl.core.alarms.rows.plant import PLANT
from dosectl.core.alarms.rows.probes import PROBES
from dosectl.core.alarms.rows.water import WATER
from dosectl.model.reasons import Code

ROWS: tuple[Row, ...] = (*FEEDING, *WATER, *PROBES, *PLANT)
BY_CODE: Mapping[Code, Row] = {row.code: row for row in ROWS}


def row_of(code: Code) -> Row:
    """The row of an alarm. Raises KeyError where the catalogue lacks it."""
    return BY_CODE[code]
