"""What control's plan will aim for at an hour to come: its own aim, raised before a pause, asked with what a forecast knows."""

from dataclasses import replace
from datetime import datetime, timedelta

from dosectl.core.control.demand import Plan, plan
from dosectl.core.control.habit import FlowHabit
from dosectl.core.control.params import ControlParams
from dosectl.core.control.state import ControlState
from dosectl.core.control.target import target
from dosectl.core.estimate.state import WaterView
from dosectl.core.evidence import Evidence, FlowFacts, Standing, StartFacts
from dosectl.core.site import Site
from dosectl.model.instant import Instant
from dosectl.model.ledger import Ledger
from dosectl.model.signals import Health

HALF_HOUR = timedelta(minutes=30)
SOUND = Health(journal_ok=True, free_bytes=None, bus_alive=True, echo_age_s=None, clock_trusted=True)


def planned(
    site: Site, control: ControlParams, habit: FlowHabit, view: WaterView, covered: bool, light: tuple[float, ...], at: datetime
) -> Plan:
    """The plan in the middle of the hour that begins `at`.

    view : the water then, with the doubt of now, as control will go on to read its probes
    light : clear-sky light of the 24 hours from `at` on
    """
    moment = _moment(site, at + HALF_HOUR)
    water = replace(view, sun_loss_mg_l_day=0.0) if covered else view
    state = ControlState(habit=habit, light=light)
    return plan(state, water, target(site, control, water, moment), moment)


def _moment(site: Site, at: datetime) -> Evidence:
    """All that the plan asks of the evidence: the hour, and a clock to be trusted."""
    return Evidence(
        site=site, now=Instant(0.0, at, "ahead"), clock_s=0.0, clock_jump_s=0.0, readings={}, samples=(), drops=(),
        flow=FlowFacts(True, False, None, 0.0), feeders={}, ledger=Ledger(()), tests=(), standing=Standing(),
        start=StartFacts(0.0, True, (), {}, 0.0), health=SOUND, foreign=(),
    )  # fmt: skip
