"""The alarm list: one table, of which documentation and tests are made. A new alarm is one row."""

from collections.abc import Mapping
from dataclasses import replace

from dosectl.core.alarms.hiding import CLOSED
from dosectl.core.alarms.priority import Priority
from dosectl.core.alarms.row import Row
from dosectl.core.alarms.rows.feeding import FEEDING
from dosectl.core.alarms.rows.plant import PLANT
from dosectl.core.alarms.rows.probes import PROBES
from dosectl.core.alarms.rows.water import WATER
from dosectl.model.reasons import Code

RESTING: tuple[str, ...] = ("feed.", "water.", "probe.", "pump.", "messages.", "plan.", "person.stop")
"""Alarms, by the begin of their code, that a closed season hides: nothing is fed, nobody swims, probes lie in a cupboard."""
WATCHED: tuple[str, ...] = ("water.freeze",)
"""What stays watched though it begins so; and whatever is critical."""


def _resting(row: Row) -> Row:
    """The row as it is, or hidden by a closed season too."""
    watched = row.priority is Priority.CRITICAL or row.latch or row.code in WATCHED or not row.code.startswith(RESTING)
    return row if watched else replace(row, hidden_by=(*row.hidden_by, CLOSED))


ROWS: tuple[Row, ...] = tuple(_resting(row) for row in (*FEEDING, *WATER, *PROBES, *PLANT))
BY_CODE: Mapping[Code, Row] = {row.code: row for row in ROWS}


def row_of(code: Code) -> Row:
    """The row of an alarm. Raises KeyError where the catalogue lacks it."""
    return BY_CODE[code]
