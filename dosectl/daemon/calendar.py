"""Calendar work by APScheduler: summaries, retention, reminders. Outside the dosing path: jobs only put a word on the queue.

APScheduler works by the wall clock: set back, it goes silent for as long as the clock was set back. So it never starts or stops a
feed, and it is told to reschedule when the core sees the wall clock jump.
"""

import logging
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from apscheduler.events import EVENT_JOB_ERROR, EVENT_JOB_MAX_INSTANCES, EVENT_JOB_MISSED, JobExecutionEvent
from apscheduler.schedulers.background import BackgroundScheduler
from apscheduler.triggers.cron import CronTrigger
from apscheduler.triggers.interval import IntervalTrigger

log = logging.getLogger("dosectl.calendar")

MISFIRE_S = 3600  # a suspended board must not lose the day's work


@dataclass(frozen=True, slots=True)
class Job:
    """One piece of calendar work: its word on the queue and when. Nothing local between 01:00 and 04:00: DST folds and gaps."""

    word: str
    hour: int | None = None
    minute: int = 0
    every_min: int | None = None
    weekday: str | None = None


JOBS = (
    Job("day_summary", hour=8),
    Job("week_summary", hour=8, minute=5, weekday="mon"),
    Job("retention", every_min=10),
    Job("calls_test", hour=10),  # asked each day: a machine that was off on the first makes up for it
)


class Calendar:
    """Puts each job's word on the queue when it is due. `on_fault` gets a code when a job was missed, failed or overran."""

    def __init__(
        self, time_zone: str, put: Callable[[str], None], on_fault: Callable[[str], None], *, ticked: bool = False
    ) -> None:
        """ticked : the pool keeps a time of its own, told to `passed`; only what is due each few minutes goes by the wall."""
        self._put = put
        self._time_zone = time_zone
        self._by_tick = tuple(job for job in JOBS if ticked and job.every_min is None)
        self._by_wall = tuple(job for job in JOBS if job not in self._by_tick)
        self._next: dict[str, datetime | None] = {}
        self._on_fault = on_fault
        self._scheduler = BackgroundScheduler(
            timezone=time_zone, job_defaults={"coalesce": True, "max_instances": 1, "misfire_grace_time": MISFIRE_S}
        )
        self._scheduler.add_listener(self._heard, EVENT_JOB_ERROR | EVENT_JOB_MISSED | EVENT_JOB_MAX_INSTANCES)
        for job in self._by_wall:
            self._scheduler.add_job(put, self._trigger(job, time_zone), args=[job.word], id=job.word)

    @staticmethod
    def _trigger(job: Job, time_zone: str) -> CronTrigger | IntervalTrigger:
        if job.every_min is not None:
            return IntervalTrigger(minutes=job.every_min, timezone=time_zone)
        return CronTrigger(day_of_week=job.weekday, hour=job.hour, minute=job.minute, timezone=time_zone)

    def _heard(self, event: JobExecutionEvent) -> None:
        code = {EVENT_JOB_ERROR: "calendar.failed", EVENT_JOB_MISSED: "calendar.missed"}.get(event.code, "calendar.overran")
        log.warning("calendar work %s: %s", event.job_id, code)
        self._on_fault(code)

    def start(self) -> None:
        self._scheduler.start()

    def clock_jumped(self) -> None:
        """Sets all next runs anew from the present wall clock: after a set-back they would stay silent for as long."""
        for job in self._by_wall:
            self._scheduler.reschedule_job(job.word, trigger=self._trigger(job, str(self._scheduler.timezone)))

    def passed(self, utc: datetime) -> None:
        """The pool's own time has come to this moment: what was due since the last one is due once. Nothing for a wall clock."""
        for job in self._by_tick:
            due = self._next.get(job.word)
            if due is not None and utc < due:
                continue
            if due is not None:
                self._put(job.word)
            trigger = self._trigger(job, self._time_zone)
            self._next[job.word] = trigger.get_next_fire_time(None, utc + timedelta(seconds=1))

    def stop(self) -> None:
        self._scheduler.shutdown(wait=False)
