"""Memory and processor time of the daemon at rest, beside an idle process that imports the same fixed packages.

    .venv/bin/python -m tests.benchmarks.footprint [--seconds 60]

At rest: minimal settings on the machine's own clock, a real broker, all signals coming in at their usual rates, nothing
fed. The idle process imports paho-mqtt, pydantic, APScheduler, influxdb-client and simple-pid, and sleeps. RSS and CPU are the
kernel's (/proc); PSS counts shared pages by their share.
"""

import argparse
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.services import eventually
from tests.system.stage import guarded_broker
from tests.system.wall_pool import BASE, WallPool, wall_daemon

IDLE = (
    "import paho.mqtt.client, pydantic, apscheduler.schedulers.background, influxdb_client, simple_pid, time; "
    "print('ready', flush=True); time.sleep(3600)"
)
TICKS_S = os.sysconf("SC_CLK_TCK")


def memory_mb(pid: int) -> tuple[float, float]:
    """RSS and PSS of a process [MB]."""
    lines = Path(f"/proc/{pid}/smaps_rollup").read_text(encoding="ascii").splitlines()
    found = {line.split(":")[0]: float(line.split()[1]) / 1024.0 for line in lines[1:]}
    return found["Rss"], found["Pss"]


def cpu_s(pid: int) -> float:
    """Processor time used so far [s]."""
    fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / TICKS_S


def main() -> int:
    """Measures both and prints them."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seconds", type=float, default=60.0)
    seconds = parser.parse_args().seconds
    idle = subprocess.Popen([sys.executable, "-c", IDLE], stdout=subprocess.PIPE)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        broker = guarded_broker(folder / "broker", BASE)
        broker.start()
        daemon, pool = wall_daemon(folder, broker.port), WallPool(broker.port)
        try:
            assert idle.stdout is not None
            idle.stdout.readline()
            daemon.start()
            eventually(lambda: pool.state, 60, "the daemon shows its state")
            time.sleep(10.0)
            rows = (("daemon at rest", daemon.pid), ("idle, same packages", idle.pid))
            before = {pid: cpu_s(pid) for _, pid in rows}
            time.sleep(seconds)
            print(f"{'':<22}{'RSS MB':>8}{'PSS MB':>8}{'CPU %':>8}   over {seconds:g} s")
            for text, pid in rows:
                rss, pss = memory_mb(pid)
                print(f"{text:<22}{rss:>8.1f}{pss:>8.1f}{(cpu_s(pid) - before[pid]) / seconds * 100.0:>8.2f}")
        finally:
            daemon.kill()
            idle.kill()
            idle.wait()
            pool.close()
            broker.kill()
    return 0


if __name__ == "__main__":
    sys.exit(main())
