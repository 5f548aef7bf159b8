"""Starts the demo's processes, plays it, and ends it with every feeder off and that confirmed."""

import argparse
import json
import os
import signal
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from dosectl.bus.ask import Asker, NoBroker
from dosectl.cli.demo_console import Console, Course
from dosectl.cli.verb import DONE, REFUSED
from dosectl.cli.where import demo_note
from dosectl.core.requests.kinds.attest_proof import YES, questions_for
from dosectl.model.requests import Place
from dosectl.rehearsal.broker import Broker, NoBrokerHere, start_broker
from dosectl.rehearsal.demo_settings import demo_settings
from dosectl.settings.load import Loaded, load

START_LIMIT_S = 60.0
END_LIMIT_S = 60.0


class DemoFailed(Exception):
    """A part of the demo did not start or died; the text says which and what it said last."""


@dataclass(slots=True)
class _Child:
    name: str
    process: subprocess.Popen[bytes]
    log: Path

    def last_words(self) -> str:
        lines = self.log.read_text(encoding="utf-8", errors="replace").strip().splitlines()
        return " / ".join(lines[-4:]) or "it said nothing"

    def end(self, limit_s: float) -> int | None:
        """Asks it to end and waits; its exit status, None where it had to be killed."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGTERM)
        try:
            return self.process.wait(timeout=limit_s)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
            return None


def _child(name: str, words: list[str], folder: Path) -> _Child:
    """A child in a session of its own: the console's Ctrl-C must not reach it, its end is asked for in order."""
    log = folder / f"{name}.log"
    with log.open("wb") as out:
        process = subprocess.Popen(
            [sys.executable, "-m", *words], stdout=out, stderr=subprocess.STDOUT, stdin=subprocess.DEVNULL, start_new_session=True
        )
    return _Child(name, process, log)


def play(arguments: argparse.Namespace, folder: Path) -> int:
    """Runs the demo until Ctrl-C or its hours are over. Raises DemoFailed."""
    signal.signal(signal.SIGTERM, signal.default_int_handler)  # an end by a service manager is a Ctrl-C
    broker = _broker(arguments, folder)
    children: list[_Child] = []
    try:
        config = folder / "pool.toml"
        config.write_text(demo_settings(broker.host, broker.port, broker.protocol, arguments.hypochlorite), encoding="utf-8")
        loaded = load(config)
        note = demo_note()
        note.write_text(json.dumps({"pid": os.getpid(), "config": str(config)}), encoding="utf-8")
        pool = _child("pool", _pool_words(arguments, broker, loaded), folder)
        children.append(pool)
        daemon = _child("daemon", ["dosectl.cli", "run", "--config", str(config)], folder)
        children.append(daemon)
        try:
            with Asker(loaded.broker) as asker:
                _await_daemon(asker, children)
                _prove(asker, loaded)
                _test_water(asker)
            course = _watch(arguments, loaded, broker, children)
        except NoBroker as error:
            raise DemoFailed(str(error)) from error
        finally:
            note.unlink(missing_ok=True)
            off = _end(loaded, daemon, pool)
        print(course.summary())
        print(off)
        return DONE if off.endswith("confirmed") else REFUSED
    finally:
        for child in children:
            child.end(5.0)
        broker.stop()


def _broker(arguments: argparse.Namespace, folder: Path) -> Broker:
    if arguments.broker:
        host, _, port = arguments.broker.rpartition(":")
        if not host or not port.isdigit():
            raise DemoFailed(f"--broker {arguments.broker}: HOST:PORT is needed")
        return Broker("given", host, int(port), "auto", "", None)
    try:
        return start_broker(folder, embedded=arguments.embedded)
    except NoBrokerHere as error:
        raise DemoFailed(str(error)) from error


def _pool_words(arguments: argparse.Namespace, broker: Broker, loaded: Loaded) -> list[str]:
    protocol = "5" if broker.protocol == "auto" else broker.protocol
    return [
        "dosectl.rehearsal.sim_process", "--host", broker.host, "--port", str(broker.port), "--protocol", protocol,
        "--base", loaded.broker.base, "--speed", str(arguments.speed), "--seed", str(arguments.seed),
        "--pool", "quince-hypo" if arguments.hypochlorite else "quince",
    ]  # fmt: skip


def _alive(children: list[_Child]) -> None:
    for child in children:
        if child.process.poll() is not None:
            raise DemoFailed(f"the {child.name} ended with {child.process.returncode}: {child.last_words()}")


def _await_daemon(asker: Asker, children: list[_Child]) -> None:
    end = time.monotonic() + START_LIMIT_S
    while time.monotonic() < end:
        _alive(children)
        if asker.state(limit_s=0.5) is not None:
            return
    raise DemoFailed(f"the daemon published nothing within {START_LIMIT_S:g} s: {children[-1].last_words()}")


def _prove(asker: Asker, loaded: Loaded) -> None:
    """The demo's own proof records: each is marked as simulated, and valid for simulated nodes only."""
    for feeder in loaded.site.feeders:
        facts: dict[str, Any] = {"feeder": feeder.id, **{question.key: YES for question in questions_for(feeder)}}
        answer = asker.ask("owner", Place.CONSOLE, "attest_proof", facts, by="demo", limit_s=15.0)
        if answer is None or not answer.done:
            raise DemoFailed(f"{feeder.id}: the proof record was refused: {'no answer' if answer is None else answer.text}")


def _test_water(asker: Asker) -> None:
    """The owner's first water test, read as a drop kit would show it: by steps of 0.2 mg/L and 0.1 pH."""
    for heard in asker.listen((asker.topics.sim_truth,), for_s=START_LIMIT_S):
        if heard.topic != asker.topics.sim_truth:
            continue  # the connection still hears what was asked for before
        truth = json.loads(heard.payload)
        free, ph = round(truth["free_chlorine_mg_l"] / 0.2) * 0.2, round(truth["ph"], 1)
        for quantity, value, method in (("free_chlorine", round(free, 1), "drops"), ("ph", ph, "drops")):
            facts = {"quantity": quantity, "value": value, "method": method}
            answer = asker.ask("owner", Place.CONSOLE, "water_test", facts, by="demo", limit_s=15.0)
            if answer is None or not answer.done:
                raise DemoFailed(f"the first water test was refused: {'no answer' if answer is None else answer.text}")
        return
    raise DemoFailed("the simulated pool said nothing of its water")


def _watch(arguments: argparse.Namespace, loaded: Loaded, broker: Broker, children: list[_Child]) -> Course:
    """Shows what goes on until Ctrl-C or the hours are over."""
    course = Course()
    limit_s = None if arguments.hours is None else arguments.hours * 3600.0
    with Asker(loaded.broker) as asker, Console(arguments.plain, broker.name, broker.lacks) as console:
        patterns = (asker.topics.state, asker.topics.sim_truth, f"{loaded.broker.base}/sim/faults")
        try:
            for heard in asker.listen(patterns):
                course.take(heard.topic, heard.payload)
                console.show(course)
                if course.children_due():
                    _alive(children)
                if limit_s is not None and course.elapsed_s() >= limit_s:
                    break
        except KeyboardInterrupt:
            pass
    return course


def _end(loaded: Loaded, daemon: _Child, pool: _Child) -> str:
    """Ends the daemon in order, then asks the nodes themselves whether every feeder is off."""
    status = daemon.end(END_LIMIT_S)
    shown: dict[str, bool] = {}
    if pool.process.poll() is None:
        try:
            with Asker(loaded.broker) as asker:
                # The plant's clock stands once the daemon is gone; its end makes the node say its last state.
                pool.process.send_signal(signal.SIGTERM)
                for heard in asker.listen((f"{loaded.broker.base}/node/+/status",), for_s=5.0):
                    if "/node/" not in heard.topic:
                        continue  # the embedded broker also sends retained messages that nobody asked for
                    feeders = json.loads(heard.payload).get("feeders", {})
                    shown |= {name: bool(item["on"]) for name, item in feeders.items()}
                    if len(shown) == len(loaded.site.feeders):
                        break
        except (NoBroker, ValueError):
            shown = {}
    names = [str(feeder.id) for feeder in loaded.site.feeders]
    off = status == 0 and all(shown.get(name) is False for name in names)
    said = f"daemon ended with {status}" if status is not None else "the daemon had to be killed"
    return f"{said}; every feeder off ({', '.join(names)}): {'confirmed' if off else 'NOT confirmed, see the logs'}"
