"""A real time-series server as the child of a test."""

import json
import time
import urllib.request
from pathlib import Path
from typing import Any

from tests.services import LOOPBACK, Child, eventually, free_port, require_program


class TimeSeriesServer:
    """VictoriaMetrics on a free loopback port, with a folder of its own."""

    def __init__(self, folder: Path) -> None:
        program = require_program("victoria-metrics", "victoria-metrics")
        folder.mkdir(parents=True, exist_ok=True)
        self.port = free_port()
        self.url = f"http://{LOOPBACK}:{self.port}"
        argv = [
            program,
            f"-storageDataPath={folder / 'data'}",
            f"-httpListenAddr={LOOPBACK}:{self.port}",
            "-dedup.minScrapeInterval=1ms",
            "-retentionPeriod=100y",
            "-memory.allowedBytes=64MB",
            "-search.latencyOffset=0s",
        ]
        self.child = Child(argv, self.port, folder / "log")

    def start(self) -> None:
        self.child.start()
        eventually(self._healthy, what="the time-series server answers")

    def stop(self) -> None:
        """In order: all that it has taken is on its disk."""
        self.child.stop()

    def _healthy(self) -> bool:
        try:
            return self._get("/health") == b"OK"
        except OSError:
            return False

    def _get(self, path: str) -> bytes:
        with urllib.request.urlopen(self.url + path, timeout=10) as answer:
            return bytes(answer.read())

    def samples(self, name: str) -> list[tuple[int, float]]:
        """(time in ms, value) of all samples of a series, in order of time, as stored."""
        self._get("/internal/force_flush")
        body = self._get(f"/api/v1/export?match[]={name}&start=0&end={int(time.time()) + 10 * 365 * 86_400}&reduce_mem_usage=0")
        found: list[tuple[int, float]] = []
        for line in body.decode().splitlines():
            series: dict[str, Any] = json.loads(line)
            found += zip(series["timestamps"], series["values"], strict=True)
        return sorted(found)
