"""Measures how many ticks a second the simulated pool's process sustains against a real broker.

Run: python -m tests.rehearsal.measure_ticks [seconds]. A second client only answers each tick, so the figure is the process's
own and the broker's. Prints ticks and messages a second and the processor time of the pool's process.
"""

import json
import os
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from dosectl.rehearsal.nodes import Outgoing
from dosectl.rehearsal.plant_link import PlantLink
from tests.services import LOOPBACK, Child, free_port, require_program

BASE = "measure"


def measure(port: int, seconds: float) -> None:
    """One run."""
    link = PlantLink("127.0.0.1", port, "5", (f"{BASE}/#",), f"{BASE}/measure/alive")
    link.start()
    process = subprocess.Popen(
        [sys.executable, "-m", "dosectl.rehearsal.sim_process", "--port", str(port), "--base", BASE, "--speed", "1e9"]
    )
    ticks = messages = 0
    start = 0.0
    cpu_start = 0.0
    while True:
        heard = link.hear(10.0)
        if heard is None or heard.topic == "":
            continue
        messages += 1
        if heard.topic != f"{BASE}/sim/tick":
            continue
        ticks += 1
        if ticks == 100:
            start, messages, cpu_start = time.perf_counter(), 0, cpu_s(process.pid)
        link.publish(Outgoing(f"{BASE}/sim/done", json.dumps({"n": json.loads(heard.payload)["n"]}).encode()))
        if ticks > 100 and time.perf_counter() - start >= seconds:
            break
    took = time.perf_counter() - start
    cpu = cpu_s(process.pid) - cpu_start
    process.send_signal(signal.SIGTERM)
    code = process.wait(timeout=20)
    link.stop()
    rate = (ticks - 100) / took
    print(
        f"{rate:.0f} ticks/s of 3 s ({rate * 3:.0f} x real time), {messages / took:.0f} messages/s, "
        f"pool's process {100 * cpu / took:.0f} % of one core, exit code {code}"
    )


def cpu_s(pid: int) -> float:
    """Processor time that a process used so far [s]."""
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def quiet_broker(folder: Path) -> Child:
    """A mosquitto as shipped: no debug log, no delay."""
    port = free_port()
    config = folder / "mosquitto.conf"
    config.write_text(f"listener {port} {LOOPBACK}\nallow_anonymous true\nset_tcp_nodelay true\nlog_type error\nuser root\n")
    return Child([require_program("mosquitto", "mosquitto"), "-c", str(config)], port, folder / "mosquitto.log")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name:
        server = quiet_broker(Path(name))
        server.start()
        try:
            measure(server.port, float(sys.argv[1]) if len(sys.argv) > 1 else 10.0)
        finally:
            server.kill()
